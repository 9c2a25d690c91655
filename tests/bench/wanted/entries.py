"""What a figure of the register says of itself."""

from dataclasses import dataclass
from fnmatch import fnmatchcase

# Why a time that is met elsewhere may not be met in a run.
BUSY = "Two cores that other work shared, as the load of the topic tells; the two sides do not suffer alike."


@dataclass(frozen=True)
class Wanted:
    """A figure that was asked for: where it is measured, or which test holds it; why, where it is not met.

    ``lines`` are patterns of "topic: name of the line". ``tests`` are "path::name", held in each run of CI;
    what one such run tries stands in ``tried``.
    """

    title: str
    wanted: str
    lines: tuple[str, ...] = ()
    tests: tuple[str, ...] = ()
    tried: str = ""
    why: str = ""

    def measures(self, topic: str, name: str) -> bool:
        return any(fnmatchcase(f"{topic}: {name}", pattern) for pattern in self.lines)
