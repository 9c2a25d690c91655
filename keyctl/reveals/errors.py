"""What is missing before something is shown, and where it can be had."""

from collections.abc import Sequence
from dataclasses import dataclass

from keyctl.lib.errors import Refused


@dataclass(frozen=True)
class Way:
    """A link under a refusal."""

    label: str
    url: str


class Missing(Refused):
    """Pages show the ways as links below the sentences."""

    def __init__(self, message: str, *, reasons: Sequence[str] = (), ways: Sequence[Way] = ()) -> None:
        super().__init__(message, reasons=reasons)
        self.ways = tuple(ways)
