"""How far the breaks of measured pins lie from the shear lines they were made for.

>>> from pinning.formats import load
>>> a2 = load("small-a2-5")
>>> first, *_ = residuals(a2, [[0.149, 0.025, 0.15, 0.075]] * 5)
>>> first[0]
Residual(height_in=0.149, cut=3, thousandths=1.5, control_cut=0, control_thousandths=-86.0)
>>> first[2].control_cut, first[2].control_thousandths
(7, 1.5)
"""

from dataclasses import dataclass
from itertools import accumulate

from pinning.errors import Refusals
from pinning.formats import CoreFormat
from pinning.measuring import parse_columns

__all__ = ["Residual", "residuals"]


@dataclass(frozen=True, slots=True)
class Residual:
    """One break between two pins: its height above the key, and how far above (+) or below (-) the operating
    line it lies with the depth that brings it nearest, in thousandths of an inch; the same for the control
    line under a sleeve, None elsewhere.
    """

    height_in: float
    cut: int
    thousandths: float
    control_cut: int | None
    control_thousandths: float | None


def residuals(format: CoreFormat, stacks_in: object) -> tuple[tuple[Residual, ...], ...]:
    """Per position, one residual per break from the key upwards; none where no pins are.

    `stacks_in` as `read_stacks` takes `measured_in`; raises `Refused` (`type`, `value`, `positions`).
    """
    refusals = Refusals()
    columns = parse_columns(format, stacks_in, refusals)
    refusals.stop()
    return tuple(
        tuple(_residual(format, position, height) for height in accumulate(lengths[:-1]))
        for position, lengths in enumerate(columns, 1)
    )


def _residual(format: CoreFormat, position: int, height: float) -> Residual:
    cut, off = _nearest(format, height)
    if position not in format.sleeve:
        return Residual(round(height, 6), cut, off, None, None)
    lifted = _nearest(format, height - format.addition * format.increment_in)
    return Residual(round(height, 6), cut, off, *lifted)


def _nearest(format: CoreFormat, height: float) -> tuple[int, float]:
    cut = min(format.depth_values, key=lambda depth: abs(height - format.length_in(depth)))
    return cut, round((height - format.length_in(cut)) * 1000, 2) + 0.0
