"""A second opinion on pinning, written from the mechanics and without the package's arithmetic.

A column is built segment by segment as a list of solid unit slices, each slice carrying the number of the
pin it belongs to. The key lets the column down into the plug; then we look at the two slices that touch at a
shear line: if they belong to different pins, nothing crosses the line there. Formats come in as plain
dictionaries in the documented shape, stacks as the documented JSON.
"""

from collections.abc import Sequence
from itertools import product
from typing import Any

Json = dict[str, Any]
Key = list[int | None]  # None: no pins shall stand there
Effect = tuple[bool, bool, list[int]]

PLUG = (
    40  # the operating line stands this high above the deepest possible key; any number above all depths does
)


def column_of(stack: Json) -> list[int]:
    """The pins from the bottom up as slices, each naming its pin."""
    pins = [stack["bottom"], *stack["masters"], stack["control"] or 0, stack["top"] + 100]
    return [number for number, size in enumerate(pins) for _ in range(size)]


def is_clear(stack: Json, cut: int, lift: int) -> bool:
    """Whether a pin ends exactly `lift` above the operating line when the key's cut is `cut`.

    A deep cut lets the column sink: its foot then stands `cut` below the operating line. Where there are no
    pins at all, nothing stands across anything.
    """
    if stack["top"] == 0 and not (stack["bottom"] or stack["masters"] or stack["control"]):
        return True
    foot = PLUG - cut
    line = PLUG + lift
    column = column_of(stack)
    place = line - foot
    if place == 0:
        return bool(stack["bottom"] == 0)
    return place < len(column) and (column[place - 1] != column[place])


class Core:
    """The columns of a core laid out once, to try many keys: per position the cuts that clear each line."""

    def __init__(self, format: Json, stacks: list[Json]) -> None:
        sleeve = sleeve_of(format)
        wall = format["control"]["addition"] if sleeve else 0
        self.has_sleeve = bool(sleeve)
        self.has_tip = (format["control"] or {}).get("kind") == "tip"
        self.places = [stack["position"] for stack in stacks]
        self.at_plug = [clear_cuts(format, stack, 0) for stack in stacks]
        self.at_sleeve = [
            clear_cuts(format, stack, wall if stack["position"] in sleeve else 0) for stack in stacks
        ]

    def what_turns(self, cuts: Sequence[int], on_control_blank: bool = False) -> Effect:
        """(the plug turns, the core comes out, what binds)."""
        stuck_plug = self._stuck(cuts, self.at_plug)
        if not self.has_sleeve:
            return not stuck_plug, self.has_tip and on_control_blank and not stuck_plug, stuck_plug
        stuck_sleeve = self._stuck(cuts, self.at_sleeve)
        nearest = stuck_sleeve if len(stuck_sleeve) < len(stuck_plug) else stuck_plug
        return not stuck_plug, not stuck_sleeve, nearest

    def _stuck(self, cuts: Sequence[int], clear: list[set[int]]) -> list[int]:
        rows = zip(self.places, cuts, clear, strict=True)
        return [place for place, cut, allowed in rows if cut not in allowed]


def clear_cuts(format: Json, stack: Json, lift: int) -> set[int]:
    return {cut for cut in format["depth_values"] if is_clear(stack, cut, lift)}


def what_turns(format: Json, stacks: list[Json], cuts: list[int], on_control_blank: bool = False) -> Effect:
    return Core(format, stacks).what_turns(cuts, on_control_blank)


def sleeve_of(format: Json) -> list[int]:
    control = format["control"]
    return list(control["positions"]) if control and control["kind"] == "sleeve" else []


def every_key(format: Json) -> list[list[int]]:
    """All bittings of a small format, limits or not."""
    return [list(cuts) for cuts in product(format["depth_values"], repeat=format["positions"])]


def stacks_possible(format: Json, keys: list[Key], control: Key | None) -> bool:
    """Whether the rules of the trade let these keys into one core, tried by building up each column."""
    sleeve = sleeve_of(format)
    if (control is not None) != bool(sleeve):
        return False
    everyone = [*keys, *([control] if control is not None else [])]
    if any(not _is_cuttable(format, key) for key in everyone) or all(cut is None for cut in keys[0]):
        return False
    stacks = [column_built(format, place, keys, control, sleeve) for place in range(format["positions"])]
    built = [stack for stack in stacks if stack is not None]
    return len(built) == len(stacks) and not any(_takes_out(format, built, key) for key in keys)


def _takes_out(format: Json, stacks: list[Json], key: Key) -> bool:
    """Whether an operating key would withdraw the core; any depth stands for a cut without pins."""
    cuts = [format["depth_values"][0] if cut is None else cut for cut in key]
    return what_turns(format, stacks, cuts)[1]


def _is_cuttable(format: Json, key: Key) -> bool:
    return not any(_too_far(format, key[place], key[place + 1]) for place in range(len(key) - 1))


def _too_far(format: Json, one: int | None, other: int | None) -> bool:
    if format["macs"] is None or one is None or other is None:
        return False
    return bool(one - other > format["macs"] or other - one > format["macs"])


def column_built(
    format: Json, place: int, keys: list[Key], control: Key | None, sleeve: list[int]
) -> Json | None:
    stack: Json = {"position": place + 1, "bottom": 0, "masters": [], "control": None, "top": 0}
    here = [key[place] for key in keys] + ([control[place]] if control is not None else [])
    if None in here:
        return stack if set(here) == {None} else None
    kit, cuts = format["pins"], {cut for key in keys if (cut := key[place]) is not None}
    if len({cut % format["step"] for cut in cuts}) != 1 or min(cuts) not in kit["bottom"]:
        return None
    height = stack["bottom"] = min(cuts)
    while height < max(cuts):
        pin = next(size for size in range(1, 1000) if height + size in cuts)
        if pin not in kit["master"]:
            return None
        stack["masters"].append(pin)
        height += pin
    own = None if control is None else control[place]
    if place + 1 not in sleeve:
        stack["top"] = _driver(format, height)
        return stack if stack["top"] in kit["top"] and (own is None or own in cuts) else None
    assert own is not None
    end = own + format["control"]["addition"]
    stack["control"], stack["top"] = end - height, format["total"]["sleeve"] - end
    return stack if stack["control"] in kit["control"] and stack["top"] in kit["top"] else None


def _driver(format: Json, plug_total: int) -> int | None:
    if format["drivers"] is None:
        return int(format["total"]["plain"]) - plug_total
    rows = [row["pin"] for row in format["drivers"] if plug_total in range(row["from"], row["to"] + 1)]
    return rows[0] if rows else None
