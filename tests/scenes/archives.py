"""An archive of the estate that somebody asked for."""

from typing import Any

from keyctl.operations.models import EstateArchive
from tests.scenes.base import Base


def routes(base: Base) -> dict[str, Any]:
    archive = EstateArchive.objects.create(actor=base.cast.administrator, reason="We move house")
    return {f"operations:archive-{act}": archive.pk for act in ("make", "fetch", "delete")}
