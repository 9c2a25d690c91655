"""One core's exposure as bars: what is meant to turn it, what turns it besides, and what nearly does.

Four keys and four thousand stand in one picture, so every doubling is a step of the same length, and the
figures stand beside the bars. Each kind has a pattern of its own.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from math import log2

from django.utils.translation import gettext as _

from keyctl.cores.models import Core, Turn
from keyctl.cores.selectors import planned_keys
from keyctl.exposure.models import CoreExposure
from keyctl.lib.numbers import as_number

WIDTH, LEFT, TOP = 330, 6, 10
ROW, BAR, WORDS = 46, 18, 14
SCALE = 44  # the ticks and their figures
# The scale ends at a power of two, and never before this one.
SHORTEST = 6
MOST_TICKS = 6


@dataclass(frozen=True)
class Bar:
    kind: str  # planned, incidental, barred, near
    words: str
    number: int
    y: int
    width: int

    @property
    def baseline(self) -> int:
        return self.y - 6

    @property
    def sentence(self) -> str:
        return f"{self.words}: {as_number(self.number)}"


@dataclass(frozen=True)
class Tick:
    x: int
    number: int


@dataclass(frozen=True)
class Bars:
    name: str
    title: str
    width: int
    height: int
    bars: tuple[Bar, ...]
    ticks: tuple[Tick, ...]
    left: int = LEFT

    @property
    def foot(self) -> int:
        return self.height - SCALE + 6


def planned_turning(core: Core) -> int:
    """How many of the keys that the plan means to turn it do, by the pins."""
    turning = Turn.objects.filter(core=core, operates=True)
    return turning.filter(symbol__in=planned_keys([core.pk])[core.pk]).count()


def draw_bars(found: CoreExposure, planned: int, *, title: str) -> Bars:
    kinds = [
        ("planned", _("Planned keys that turn it"), planned),
        ("incidental", _("Unplanned, and may be cut"), found.unplanned),
        ("barred", _("Unplanned, and against a rule"), _barred(found, planned)),
        ("near", _("Existing keys, one cut off"), found.near),
    ]
    steps = max(SHORTEST, *(_doublings(number) for _kind, _words, number in kinds))
    bars = tuple(
        Bar(kind, words, number, TOP + place * ROW + WORDS, _length(number, steps))
        for place, (kind, words, number) in enumerate(kinds)
    )
    height = TOP + ROW * len(bars) + SCALE - 8
    return Bars("exposure", title, WIDTH + 2 * LEFT, height, bars, tuple(_ticks(steps)))


def _barred(found: CoreExposure, planned: int) -> int:
    return max(0, found.accepts - found.unplanned - planned)


def _doublings(number: int) -> int:
    """How many doublings from one reach it.

    >>> _doublings(0), _doublings(1), _doublings(64), _doublings(65)
    (0, 1, 7, 8)
    """
    return (number - 1).bit_length() + 1 if number else 0


def _length(number: int, steps: int) -> int:
    """One is a step long already, so that it is seen; none has no bar."""
    return round(WIDTH * (log2(number) + 1) / steps) if number else 0


def _ticks(steps: int) -> Iterator[Tick]:
    stride = -(-steps // MOST_TICKS)
    for step in range(1, steps + 1, stride):
        yield Tick(LEFT + round(WIDTH * step / steps), 2 ** (step - 1))
