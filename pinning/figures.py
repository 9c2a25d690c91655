"""The figures of a construction, as frozen values; `pinning.formats` makes them, valid from then on."""

from dataclasses import dataclass

__all__ = ["LARGEST_SIZE", "Control", "CoreFormat", "DriverRange", "PinKit", "Totals"]

LARGEST_SIZE = 999


@dataclass(frozen=True, slots=True)
class Control:
    """How a core comes out. Only a sleeve has positions, and an addition: the thickness of the sleeve's
    wall in increments, by which the control line lies above the operating line.

    `numbering` is how a shop writes control pins: by size, or relative to the sleeve ('+1', '-2').
    """

    kind: str  # sleeve, tip, screw
    positions: tuple[int, ...] = ()
    addition: int = 0
    numbering: str = "absolute"  # or relative


@dataclass(frozen=True, slots=True)
class Totals:
    """What a stack adds up to, where a format fixes that: outside the sleeve, and under it."""

    plain: int | None = None
    sleeve: int | None = None


@dataclass(frozen=True, slots=True)
class DriverRange:
    """Plug totals from `low` to `high` take driver `pin`. The plug total is the deepest operating cut."""

    low: int
    high: int
    pin: int


@dataclass(frozen=True, slots=True)
class PinKit:
    """The sizes that exist, by role."""

    bottom: tuple[int, ...]
    master: tuple[int, ...]
    control: tuple[int, ...]
    top: tuple[int, ...]

    def sizes(self, role: str) -> tuple[int, ...]:
        return {"bottom": self.bottom, "master": self.master, "control": self.control, "top": self.top}[role]


@dataclass(frozen=True, slots=True)
class CoreFormat:
    """A construction's figures. Made by `parse_format` or `load`, and valid from then on.

    The last three are only for drawing and measuring keys, None where nobody has measured them: from the
    reading order's reference (tip or shoulder) to the middle of the first cut, from cut to cut, and the
    plug's diameter.
    """

    id: str
    name: str
    construction: str
    positions: int
    depths: str
    depth_values: tuple[int, ...]
    increment_in: float
    base_pin_in: float
    step: int
    macs: int | None
    order: str
    control: Control | None
    total: Totals
    drivers: tuple[DriverRange, ...] | None
    pins: PinKit
    first_cut_in: float | None = None
    spacing_in: float | None = None
    plug_diameter_in: float | None = None

    @property
    def sleeve(self) -> tuple[int, ...]:
        """The positions under the control sleeve; () where there is none."""
        return self.control.positions if self.control else ()

    @property
    def addition(self) -> int:
        return self.control.addition if self.control else 0

    @property
    def control_kind(self) -> str | None:
        """sleeve, tip, screw or None."""
        return self.control.kind if self.control else None

    def lift(self, position: int) -> int:
        """How far above the operating line the line lies at which a withdrawing key must clear there."""
        return self.addition if position in self.sleeve else 0

    def plain_top(self, deepest: int) -> int | None:
        """The top pin on that deepest cut where no sleeve is; None if the driver table has no row for it."""
        if self.drivers is None:
            return (self.total.plain or 0) - deepest
        return next((row.pin for row in self.drivers if row.low <= deepest <= row.high), None)

    def number_of(self, symbol: str) -> int | None:
        place = self.depths.find(symbol)
        return None if place < 0 else self.depth_values[place]

    def symbol_of(self, number: int) -> str:
        return self.depths[self.depth_values.index(number)]

    def length_in(self, size: int) -> float:
        """The length in inches of a column of `size` increments standing on the lowest bottom pin."""
        return self.base_pin_in + (size - self.depth_values[0]) * self.increment_in

    def root_depth_in(self, cut: int) -> float | None:
        """How much of the key that cut leaves, in inches; None without the plug's diameter."""
        if self.plug_diameter_in is None:
            return None
        return self.plug_diameter_in - self.length_in(cut)
