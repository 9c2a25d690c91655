"""An event of the core's, for the page of its proof."""

from typing import Any

from keyctl.audit.selectors import history_of
from tests.scenes.base import Base


def routes(base: Base) -> dict[str, Any]:
    event = history_of(base.core)[0]
    return {"history:event": event.pk, "history:proof": event.pk}
