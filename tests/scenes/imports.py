"""A file of doors that was tried."""

from typing import Any

from keyctl.imports.kinds import find_kind
from keyctl.imports.services import bring_file
from tests.scenes.base import Base

OF_IMPORT = ("detail", "report", "columns", "try", "take", "undo", "leave")


def routes(base: Base) -> dict[str, Any]:
    kind = find_kind("doors")
    assert kind is not None
    imported = bring_file(
        actor=base.cast.locksmith,
        site=base.cast.north,
        kind=kind,
        name="doors.csv",
        content=b"Building,Floor,Number\r\nA,Level 1,101",
    )
    return {**{f"imports:{name}": imported.pk for name in OF_IMPORT}, "imports:bring": "doors"}
