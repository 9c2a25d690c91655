"""From figures and moments to pixels."""

from dataclasses import dataclass
from datetime import datetime


@dataclass(frozen=True)
class Scale:
    """Counts on an upright axis: nought at ``bottom``, ``most`` at ``top``."""

    most: float
    top: int
    bottom: int

    def y(self, count: float) -> int:
        return self.bottom - round(count / max(self.most, 1) * (self.bottom - self.top))


@dataclass(frozen=True)
class TimeScale:
    """Moments on a level axis, by the seconds between them: a day of 23 hours is narrower than one of 24."""

    first: datetime
    last: datetime
    left: int
    right: int

    @property
    def width(self) -> int:
        return self.right - self.left

    @property
    def seconds(self) -> float:
        return max(self.last.timestamp() - self.first.timestamp(), 1.0)

    def x(self, moment: datetime) -> int:
        # Not the difference of the two: between moments of one zone that is the one of their clocks.
        share = (moment.timestamp() - self.first.timestamp()) / self.seconds
        return self.left + round(min(max(share, 0.0), 1.0) * self.width)
