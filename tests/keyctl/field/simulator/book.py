"""The real world of one game, in plain Python: where each core really is, whatever anybody was told.

It knows no rule of the product and asks no database; the referee holds the register against it.
"""

from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import Any

# (place, the housing or the person whose case it is): one value says where a core is.
Spot = tuple[str, str]
Json = dict[str, Any]

SHELF: Spot = ("shelf", "")
BENCH: Spot = ("bench", "")
GONE: Spot = ("gone", "")
OUTSIDE = ("shelf", "bench", "case")


def inside(housing: str) -> Spot:
    return ("housing", housing)


def spot_at(place: str, person: str) -> Spot:
    """Where a core goes that a person puts at this place."""
    return (place, person if place == "case" else "")


@dataclass(frozen=True)
class Estate:
    """What one game is played with, by its names in the register; how everything stands at the beginning."""

    housings: tuple[str, ...]
    people: tuple[str, ...]
    devices: tuple[str, ...]
    spots: dict[str, Spot]
    versions: dict[str, int]
    # Open lines of swap orders, and the housing of each.
    lines: dict[str, str]
    # A core that the register has never heard of.
    stray: str = ""
    # Cores that no pack holds: of another building, or registered since.
    unseen: frozenset[str] = frozenset()
    mood: str = "mixed"

    @property
    def calm(self) -> bool:
        """Nobody comes between: one tablet, one person, every fact in order; nothing may be contradicted."""
        return self.mood == "calm"


@dataclass
class Book:
    spots: dict[str, Spot]
    # A core that was told of by nobody who is left: what the register says of it is nobody's fault.
    untold: set[str] = field(default_factory=set)

    def in_housing(self, housing: str) -> str:
        """The tag of the core in it, nothing where it is empty."""
        return next((core for core, spot in self.spots.items() if spot == inside(housing)), "")

    def in_reach(self, person: str) -> list[str]:
        """The cores that this person can take into the hand away from any door."""
        free = {SHELF, BENCH, ("case", person)}
        return sorted(core for core, spot in self.spots.items() if spot in free)

    def swap(self, housing: str, core_in: str, put_at: Spot) -> str:
        """The hands at the door; returns what came out."""
        core_out = self.in_housing(housing)
        if core_out:
            self.spots[core_out] = put_at
        self.spots[core_in] = inside(housing)
        return core_out


def cores_in(event: Json) -> Iterator[str]:
    """The tags of the cores that an event speaks of."""
    for name in ("core", "core_in", "core_out"):
        if tag := event["body"].get(name):
            yield tag


def moves_cores(event: Json) -> bool:
    return event["kind"] in {"swapped", "put"}
