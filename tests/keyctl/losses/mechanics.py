"""Keys and pins by the mechanics alone: what stands between the plug and the shell, slice by slice."""

import json
from typing import Any

from keyctl.cores.models import Core
from keyctl.engine import load_format
from keyctl.systems.models import KeySymbol
from keyctl.vault import services as vault


def cuts_of(symbol: KeySymbol) -> list[int]:
    """The depths of a key, read off its symbols in the order of the format's depths."""
    format = load_format(symbol.system.format_id)
    return [format.depth_values[format.depths.index(sign)] for sign in vault.unseal(symbol, "bitting")]


def effect(core: Core, cuts: list[int]) -> tuple[bool, bool]:
    """(turns, comes out): a pin's end must lie at the line in every position."""
    format = load_format(core.format_id)
    sleeve = format.control.positions if format.control else ()
    lift = format.control.addition if format.control else 0
    stacks = json.loads(vault.unseal(core, "pinning"))
    turns = all(_ends_at(stack, cut) for stack, cut in zip(stacks, cuts, strict=True))
    out = bool(sleeve) and all(
        _ends_at(stack, cut + (lift if stack["position"] in sleeve else 0))
        for stack, cut in zip(stacks, cuts, strict=True)
    )
    return turns, out


def turned_by(core: Core) -> set[str]:
    """The symbols of its system that turn it, each tried in the lock."""
    assert core.system
    keys = core.system.symbols.select_related("system")
    return {str(key) for key in keys if effect(core, cuts_of(key))[0]}


def _ends_at(stack: dict[str, Any], height: int) -> bool:
    column: list[str] = []
    for number, size in enumerate((stack["bottom"], *stack["masters"], stack["control"] or 0)):
        column += [str(number)] * size
    column += ["top"] * 200
    if height == 0:
        return bool(stack["bottom"] == 0)
    return height < len(column) and column[height - 1] != column[height]
