"""A key's profile to scale: where its cuts lie and what they leave of the blade.

Measured along the key from the reading order's reference: the tip, or the shoulder. Only the middles and
root depths of the cuts follow from the format. The flats' width (a quarter of the spacing), the flanks of 45
degrees and the uncut blade one increment above the shallowest cut are for the drawing alone (common practice,
no source); cut keys on a machine set for the blank.

>>> from pinning.bittings import parse_bitting
>>> from pinning.formats import load
>>> a2 = load("small-a2-6")
>>> profile = key_profile(a2, parse_bitting(a2, "361492"))
>>> profile.reference, profile.cuts[1]
('tip', ProfileCut(position=2, centre_in=0.23, root_depth_in=0.243))
"""

from collections.abc import Iterator
from dataclasses import dataclass, field
from itertools import pairwise
from typing import NamedTuple

from pinning.bittings import Bitting
from pinning.errors import Refusal, Refused
from pinning.formats import CoreFormat
from pinning.wording import said

__all__ = ["Profile", "ProfileCut", "key_profile"]

Point = tuple[float, float]
FLAT = 0.25  # of the spacing


class ProfileCut(NamedTuple):
    """One cut: its middle from the reference, and the height of blade it leaves, in inches."""

    position: int
    centre_in: float
    root_depth_in: float


@dataclass(frozen=True, slots=True)
class Profile:
    """The blade's cut edge as points (along the key from the reference, height above its back), in inches."""

    points: tuple[Point, ...] = field(repr=False)
    cuts: tuple[ProfileCut, ...] = field(repr=False)
    reference: str  # tip or shoulder
    length_in: float
    height_in: float


def key_profile(format: CoreFormat, bitting: Bitting) -> Profile:
    """The profile; raises `Refused` (code `not_drawable`) if the format lacks one of its three lengths, and
    `length` if the bitting is not of that format's length.
    """
    first, spacing, plug = format.first_cut_in, format.spacing_in, format.plug_diameter_in
    if first is None or spacing is None or plug is None:
        message = said(
            "The format lacks a length for drawing keys; give first_cut_in, spacing_in and plug_diameter_in."
        )
        raise Refused([Refusal("not_drawable", message)])
    if len(bitting.cuts) != format.positions:
        message = said(
            "The key has {cuts} cuts; give one for each of {positions} positions.",
            cuts=len(bitting.cuts),
            positions=format.positions,
        )
        raise Refused([Refusal("length", message)])
    cuts = tuple(
        ProfileCut(place + 1, _rounded(first + place * spacing), _rounded(plug - format.length_in(cut)))
        for place, cut in enumerate(bitting.cuts)
    )
    height = _rounded(plug - format.length_in(format.depth_values[0]) + format.increment_in)
    length = _rounded(cuts[-1].centre_in + spacing)
    points = tuple(_edge(cuts, spacing * FLAT / 2, length, height))
    reference = "tip" if format.order == "tip-bow" else "shoulder"
    return Profile(points, cuts, reference, length, height)


def _rounded(inches: float) -> float:
    return round(inches, 6)


def _edge(cuts: tuple[ProfileCut, ...], half: float, length: float, height: float) -> Iterator[Point]:
    first, last = cuts[0], cuts[-1]
    yield from _end(first.centre_in - half, first.root_depth_in, 0.0, height)
    for cut, after in pairwise(cuts):
        yield from _flat(cut, half)
        yield from _ridge(cut, after, half, height)
    yield from _flat(last, half)
    yield from reversed(list(_end(last.centre_in + half, last.root_depth_in, length, height)))


def _flat(cut: ProfileCut, half: float) -> Iterator[Point]:
    yield _rounded(cut.centre_in - half), cut.root_depth_in
    yield _rounded(cut.centre_in + half), cut.root_depth_in


def _end(foot: float, root: float, end: float, height: float) -> Iterator[Point]:
    """From an end of the blade to where a flank begins that reaches its flat at `foot`."""
    room, rise = abs(foot - end), height - root
    if room <= rise:
        yield end, _rounded(root + room)
        return
    yield end, height
    yield _rounded(foot - rise if foot > end else foot + rise), height


def _ridge(cut: ProfileCut, after: ProfileCut, half: float, height: float) -> Iterator[Point]:
    """Where the flanks of two cuts meet, or meet the blade's edge; nothing if one swallows the other."""
    start, end = cut.centre_in + half, after.centre_in - half
    run = (end - start + after.root_depth_in - cut.root_depth_in) / 2
    if not 0 < run < end - start:
        return
    if cut.root_depth_in + run <= height:
        yield _rounded(start + run), _rounded(cut.root_depth_in + run)
        return
    yield _rounded(start + height - cut.root_depth_in), height
    yield _rounded(end - height + after.root_depth_in), height
