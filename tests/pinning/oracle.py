"""A second opinion on pinning, written from the mechanics and without the package's arithmetic.

A column is built segment by segment as a list of solid unit slices, each slice carrying the number of the
pin it belongs to. The key lets the column down into the plug; then we look at the two slices that touch at a
shear line: if they belong to different pins, nothing crosses the line there. Formats come in as plain
dictionaries in the documented shape, stacks as the documented JSON.
"""

from itertools import product
from typing import Any

Json = dict[str, Any]

PLUG = (
    40  # the operating line stands this high above the deepest possible key; any number above all depths does
)


def column_of(stack: Json) -> list[int]:
    """The pins from the bottom up as slices, each naming its pin."""
    pins = [stack["bottom"], *stack["masters"], stack["control"] or 0, stack["top"] + 100]
    return [number for number, size in enumerate(pins) for _ in range(size)]


def is_clear(stack: Json, cut: int, lift: int) -> bool:
    """Whether a pin ends exactly `lift` above the operating line when the key's cut is `cut`.

    A deep cut lets the column sink: its foot then stands `cut` below the operating line.
    """
    foot = PLUG - cut
    line = PLUG + lift
    column = column_of(stack)
    place = line - foot
    if place == 0:
        return bool(stack["bottom"] == 0)
    return place < len(column) and (column[place - 1] != column[place])


def what_turns(format: Json, stacks: list[Json], cuts: list[int]) -> tuple[bool, bool, list[int]]:
    """(the plug turns, the sleeve turns, what binds)."""
    sleeve = sleeve_of(format)
    wall = format["control"]["addition"] if sleeve else 0
    stuck_plug, stuck_sleeve = [], []
    for stack, cut in zip(stacks, cuts, strict=True):
        if not is_clear(stack, cut, 0):
            stuck_plug.append(stack["position"])
        if not is_clear(stack, cut, wall if stack["position"] in sleeve else 0):
            stuck_sleeve.append(stack["position"])
    if not sleeve:
        return not stuck_plug, False, stuck_plug
    nearest = stuck_sleeve if len(stuck_sleeve) < len(stuck_plug) else stuck_plug
    return not stuck_plug, not stuck_sleeve, nearest


def sleeve_of(format: Json) -> list[int]:
    control = format["control"]
    return list(control["positions"]) if control and control["kind"] == "sleeve" else []


def every_key(format: Json) -> list[list[int]]:
    """All bittings of a small format, limits or not."""
    return [list(cuts) for cuts in product(format["depth_values"], repeat=format["positions"])]


def stacks_possible(format: Json, keys: list[list[int]], control: list[int] | None) -> bool:
    """Whether the rules of the trade let these keys into one core, tried by building up each column."""
    sleeve = sleeve_of(format)
    if (control is not None) != bool(sleeve):
        return False
    everyone = [*keys, *([control] if control is not None else [])]
    if any(not _is_cuttable(format, key) for key in everyone):
        return False
    return all(_column_possible(format, place, keys, control, sleeve) for place in range(format["positions"]))


def _is_cuttable(format: Json, key: list[int]) -> bool:
    if format["macs"] is None:
        return True
    return not any(
        key[place] - key[place + 1] > format["macs"] or key[place + 1] - key[place] > format["macs"]
        for place in range(len(key) - 1)
    )


def _column_possible(
    format: Json, place: int, keys: list[list[int]], control: list[int] | None, sleeve: list[int]
) -> bool:
    kit, cuts = format["pins"], {key[place] for key in keys}
    if len({cut % format["step"] for cut in cuts}) != 1 or min(cuts) not in kit["bottom"]:
        return False
    height = min(cuts)
    while height < max(cuts):
        pin = next(size for size in range(1, 1000) if height + size in cuts)
        if pin not in kit["master"]:
            return False
        height += pin
    if place + 1 not in sleeve:
        driver = _driver(format, height)
        return driver in kit["top"] and (control is None or control[place] in cuts)
    assert control is not None
    end = control[place] + format["control"]["addition"]
    return end - height in kit["control"] and format["total"]["sleeve"] - end in kit["top"]


def _driver(format: Json, plug_total: int) -> int | None:
    if format["drivers"] is None:
        return int(format["total"]["plain"]) - plug_total
    rows = [row["pin"] for row in format["drivers"] if plug_total in range(row["from"], row["to"] + 1)]
    return rows[0] if rows else None
