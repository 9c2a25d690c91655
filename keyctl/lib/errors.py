"""The one way a service says no."""

from collections.abc import Sequence
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    # Children that read what comes in refuse, too, and load no Django.
    from keyctl.lib.language import Text


class Refused(Exception):
    """A rule forbids the act; ``message`` and ``reasons`` are shown to the person as they stand."""

    def __init__(self, message: "Text", *, reasons: "Sequence[Text]" = ()) -> None:
        self.message = str(message)
        super().__init__(self.message)
        self.reasons = tuple(map(str, reasons))

    @property
    def sentences(self) -> list[str]:
        return [self.message, *self.reasons]


class Conflict(Refused):
    """Somebody else changed the thing first; the person looks again and decides anew."""
