from datetime import timedelta
from typing import Any

from django.utils import timezone

from keyctl.interim.services import mark_interim
from tests.scenes.base import Base


def routes(base: Base) -> dict[str, Any]:
    until = timezone.localdate() + timedelta(days=30)
    made = mark_interim(actor=base.cast.locksmith, core=base.core, until=until, why="New lift")
    return {"interim:mark": base.core.pk, "interim:change": made.pk, "interim:stay": made.pk}
