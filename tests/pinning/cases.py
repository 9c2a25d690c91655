"""Random formats, keys and stacks for the comparisons, from a seeded `random.Random` or from Hypothesis."""

from random import Random
from typing import Any

from pinning.errors import Refused
from pinning.formats import EMPTY, CoreFormat, parse_format
from pinning.stacks import Pinning, PinStack, pin

SYMBOLS = "abcdefghij"


def random_mapping(rng: Random) -> dict[str, Any]:
    """A small format in the documented shape; any control kind, any driver rule, kits with gaps."""
    positions, depths = rng.randint(1, 4), rng.randint(2, 5)
    lowest = rng.choice([0, 0, 1])
    values = sorted(rng.sample(range(lowest, lowest + depths + 1), depths))
    control = _random_control(rng, positions)
    table = rng.random() < 0.3
    addition = (control or {}).get("addition", 0)
    return {
        "id": "random",
        "name": "Random format",
        "construction": "random",
        "positions": positions,
        "depths": SYMBOLS[:depths],
        "depth_values": values,
        "increment_in": 0.015,
        "base_pin_in": 0.165,
        "step": rng.choice([1, 1, 2]),
        "macs": rng.choice([None, None, 2, 3]),
        "order": rng.choice(["tip-bow", "bow-tip"]),
        "control": control,
        "total": {"plain": None if table else rng.randint(7, 10), "sleeve": rng.randint(7, 10) + addition},
        "drivers": _random_drivers(rng) if table else None,
        "pins": {role: _random_kit(rng, role) for role in ("bottom", "master", "control", "top")},
        "first_cut_in": rng.choice([None, 0.08, 0.231]),
        "spacing_in": rng.choice([None, 0.15, 0.156]),
        "plug_diameter_in": rng.choice([None, 0.428, 0.5]),
    }


def _random_control(rng: Random, positions: int) -> dict[str, Any] | None:
    kind = rng.choice(["sleeve", "sleeve", "sleeve", "tip", "screw", "none"])
    if kind == "none":
        return None
    if kind != "sleeve":
        return {"kind": kind}
    covered = sorted(rng.sample(range(1, positions + 1), rng.randint(1, positions)))
    return {
        "kind": "sleeve",
        "positions": covered,
        "addition": rng.randint(2, 7),
        "numbering": rng.choice(["absolute", "relative"]),
    }


def _random_drivers(rng: Random) -> list[dict[str, int]]:
    border = rng.randint(1, 4)
    return [{"from": 0, "to": border, "pin": 2}, {"from": border + 1, "to": rng.randint(5, 9), "pin": 3}]


def _random_kit(rng: Random, role: str) -> list[int]:
    low = {"bottom": 0, "master": 1, "control": rng.choice([1, 2]), "top": 1}[role]
    sizes = list(range(low, 14))
    if rng.random() < 0.2:
        sizes.remove(rng.choice(sizes[:6]))
    return sizes


def random_format(rng: Random) -> CoreFormat:
    return parse_format(random_mapping(rng))


def random_text(rng: Random, format: CoreFormat) -> str:
    return "".join(rng.choice(format.depths) for _ in range(format.positions))


def random_keys(rng: Random, format: CoreFormat) -> tuple[list[str], str | None]:
    """One to three operating keys and a control key that may suit them; some leave positions without pins."""
    first = random_text(rng, format)
    keys = [first, *(similar_text(rng, format, first) for _ in range(rng.randint(0, 2)))]
    control = _random_control_key(rng, format, first) if format.sleeve else None
    if rng.random() < 0.85:
        return keys, control
    empty = [rng.random() < 0.4 for _ in first]
    keys = [_emptied(key, empty) for key in keys]
    return keys, control and (control if rng.random() < 0.1 else _emptied(control, empty))


def similar_text(rng: Random, format: CoreFormat, text: str) -> str:
    """A key that has a chance to share a core with another: most cuts two apart, or the same."""
    places = [format.depths.index(symbol) for symbol in text]
    moved = [(place + rng.choice([0, 0, 1, 2])) % len(format.depths) for place in places]
    return "".join(format.depths[place] for place in moved)


def _random_control_key(rng: Random, format: CoreFormat, first: str) -> str:
    loose = random_text(rng, format)
    if rng.random() < 0.2:
        return loose
    places = zip(range(1, format.positions + 1), first, loose, strict=True)
    return "".join(free if place in format.sleeve else own for place, own, free in places)


def _emptied(text: str, empty: list[bool]) -> str:
    return "".join(EMPTY if gone else symbol for symbol, gone in zip(text, empty, strict=True))


def completed(rng: Random, format: CoreFormat, text: str) -> str:
    """A key as it is cut: where no pins are, any depth will do."""
    return "".join(rng.choice(format.depths) if symbol == EMPTY else symbol for symbol in text)


def tried(format: CoreFormat, keys: list[str], control: str | None) -> Pinning | None:
    """The core that these keys can share, if any."""
    try:
        return pin(format, keys, control)
    except Refused:
        return None


def random_core(rng: Random, format: CoreFormat) -> Pinning:
    """A core with any pins in it, bought or filed, sensible or not."""
    return Pinning(
        format, tuple(_random_stack(rng, format, place) for place in range(1, format.positions + 1))
    )


def _random_stack(rng: Random, format: CoreFormat, position: int) -> PinStack:
    if rng.random() < 0.05:
        return PinStack(position, 0, (), None, 0)
    control = rng.randint(1, 8) if position in format.sleeve else None
    masters = tuple(rng.randint(1, 3) for _ in range(rng.randint(0, 3)))
    return PinStack(position, rng.choice(format.depth_values), masters, control, rng.randint(1, 8))
