"""The pins of a core as a key in it lifts them: where no break meets a line, a pin stands across it."""

from collections.abc import Sequence
from dataclasses import replace
from itertools import pairwise

from keyctl.cores.drawing import PIXELS_PER_INCH, SMALLEST_INCREMENT, Column, Drawing, Pin, deepest, draw
from keyctl.engine import Pinning


def draw_with_key(pinned: Pinning, cuts: Sequence[int], *, name: str, title: str) -> Drawing:
    """Every column dropped or raised from its resting height to where this key's cut lets it stand."""
    resting = draw(pinned, name=name, title=title)
    increment = max(SMALLEST_INCREMENT, round(PIXELS_PER_INCH * pinned.format.increment_in))
    drops = [(cut - deepest(stack)) * increment for cut, stack in zip(cuts, pinned.stacks, strict=True)]
    above, below = max(0, -min(drops)), max(0, *drops)
    lines = [resting.operating.y + above, *(line.y + above for line in resting.control)]
    columns = tuple(
        _moved(column, drop + above, above + below, lines)
        for column, drop in zip(resting.columns, drops, strict=True)
    )
    return replace(
        resting,
        columns=columns,
        height=resting.height + above + below,
        operating=replace(resting.operating, y=resting.operating.y + above),
        control=tuple(replace(line, y=line.y + above) for line in resting.control),
        legend=tuple(replace(swatch, y=swatch.y + above + below) for swatch in resting.legend),
    )


def _moved(column: Column, by: int, deeper: int, lines: Sequence[int]) -> Column:
    pins = tuple(_moved_pin(pin, by, lines) for pin in column.pins)
    return replace(column, pins=pins, floor=column.floor + deeper)


def _moved_pin(pin: Pin, by: int, lines: Sequence[int]) -> Pin:
    top = pin.y + by
    return replace(pin, y=top, label_y=_label_middle(top, top + pin.height, lines))


def _label_middle(top: int, foot: int, lines: Sequence[int]) -> int:
    """The middle of the largest part that the lines leave of a pin."""
    edges = [top, *sorted({line for line in lines if top < line < foot}), foot]
    upper, lower = max(pairwise(edges), key=lambda part: part[1] - part[0])
    return (upper + lower) // 2
