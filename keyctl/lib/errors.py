"""The one way a service says no."""

from collections.abc import Sequence


class Refused(Exception):
    """A rule forbids the act; ``message`` and ``reasons`` are shown to the person as they stand."""

    def __init__(self, message: str, *, reasons: Sequence[str] = ()) -> None:
        super().__init__(message)
        self.message = message
        self.reasons = tuple(reasons)

    @property
    def sentences(self) -> list[str]:
        return [self.message, *self.reasons]


class Conflict(Refused):
    """Somebody else changed the thing first; the person looks again and decides anew."""
