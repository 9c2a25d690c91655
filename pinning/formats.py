"""Core formats: one frozen value says everything the arithmetic needs to know of a construction.

Cuts, pins and totals are whole numbers of the format's increment; lengths in inches are only for people.
Position 1 is the first cut in the format's reading order. See COMMANDS.md for the parameters one by one.

>>> small = load("small-a2-6")
>>> small.positions, small.sleeve, small.addition, small.total.sleeve
(6, (1, 2, 3, 4, 5, 6), 10, 23)
>>> parse_format(to_mapping(small)) == small
True
"""

import tomllib
from collections.abc import Mapping
from functools import cache
from importlib import resources
from itertools import pairwise
from typing import Any

from pinning.errors import Refusal, Refusals, Refused
from pinning.fields import Fields
from pinning.figures import LARGEST_SIZE, Control, CoreFormat, DriverRange, PinKit, Totals
from pinning.wording import said

__all__ = [
    "EMPTY",
    "Control",
    "CoreFormat",
    "DriverRange",
    "PinKit",
    "Totals",
    "load",
    "load_all",
    "parse_format",
    "to_mapping",
]

FIELDS = (
    "id",
    "name",
    "construction",
    "positions",
    "depths",
    "depth_values",
    "increment_in",
    "base_pin_in",
    "step",
    "macs",
    "order",
    "control",
    "total",
    "drivers",
    "pins",
    "first_cut_in",
    "spacing_in",
    "plug_diameter_in",
)
ROLES = ("bottom", "master", "control", "top")
# Stands for a position without pins in the keys given to `pin`, so it is no depth.
EMPTY = "-"


def parse_format(mapping: Mapping[str, object]) -> CoreFormat:
    """The format that `mapping` describes; raises `Refused` with every wrong parameter."""
    refusals = Refusals()
    fields = Fields(mapping, said("format"), refusals, FIELDS)
    parsed = CoreFormat(
        id=fields.text("id", 40, "inline"),
        name=fields.text("name", 120, "inline format"),
        construction=fields.text("construction", 40, "unstated"),
        positions=fields.integer("positions", 1, 16),
        depths=_depths(fields),
        depth_values=_depth_values(fields),
        increment_in=fields.length("increment_in"),
        base_pin_in=fields.length("base_pin_in"),
        step=fields.integer("step", 1, 20),
        macs=fields.integer_or_none("macs", 0, LARGEST_SIZE),
        order=fields.choice("order", ("tip-bow", "bow-tip")),
        control=_control(fields),
        total=_totals(fields),
        drivers=_drivers(fields),
        pins=_pins(fields),
        first_cut_in=fields.length_or_none("first_cut_in"),
        spacing_in=fields.length_or_none("spacing_in"),
        plug_diameter_in=fields.length_or_none("plug_diameter_in"),
    )
    _compare(parsed, fields)
    refusals.stop()
    return parsed


def _depths(fields: Fields) -> str:
    depths = fields.text("depths", 64)
    if len(set(depths)) < len(depths):
        fields.refuse("depths", "value", said("a symbol stands for two depths; name each depth once."))
    if EMPTY in depths:
        reason = said("{empty} stands for a position without pins; use another symbol.", empty=repr(EMPTY))
        fields.refuse("depths", "value", reason)
    return depths


def _depth_values(fields: Fields) -> tuple[int, ...]:
    if not fields.has("depth_values"):
        return tuple(range(len(_quiet_depths(fields))))
    values = fields.integers("depth_values", 0, LARGEST_SIZE, 64)
    if any(deeper <= shallower for shallower, deeper in pairwise(values)):
        reason = said("the numbers must rise from shallow to deep; put them in order.")
        fields.refuse("depth_values", "value", reason)
    return values


def _quiet_depths(fields: Fields) -> str:
    return fields.text("depths", 64) if fields.read("depths") else ""


def _control(fields: Fields) -> Control | None:
    if not fields.has("control"):
        return None
    part = fields.part("control", ("kind", "positions", "addition", "numbering"))
    kind = part.choice("kind", ("sleeve", "tip", "screw"))
    if not part.read("kind"):
        return None
    if kind != "sleeve":
        return _without_sleeve(kind, part)
    numbering = part.choice("numbering", ("absolute", "relative")) if part.has("numbering") else "absolute"
    control = Control(
        kind, tuple(sorted(part.integers("positions", 1, 16))), part.integer("addition", 1, 999), numbering
    )
    if part.read("positions") and len(set(control.positions)) < max(len(control.positions), 1):
        reason = said("name each position under the sleeve once, and at least one.")
        part.refuse("positions", "value", reason)
    return control


def _without_sleeve(kind: str, part: Fields) -> Control:
    for name in ("positions", "addition", "numbering"):
        if part.has(name):
            reason = said("only a sleeve has this; leave it out with {kind}.", kind=kind)
            part.refuse(name, "unknown_field", reason)
    return Control(kind)


def _totals(fields: Fields) -> Totals:
    if not fields.has("total"):
        return Totals()
    part = fields.part("total", ("plain", "sleeve"))
    return Totals(
        part.integer_or_none("plain", 0, LARGEST_SIZE), part.integer_or_none("sleeve", 0, LARGEST_SIZE)
    )


def _drivers(fields: Fields) -> tuple[DriverRange, ...] | None:
    if not fields.has("drivers"):
        return None
    table = []
    for row, item in enumerate(fields.items("drivers", 100), 1):
        place = said("format, drivers, row {row}", row=row)
        part = Fields(item, place, fields.refusals, ("from", "to", "pin"), (fields, "drivers"))
        table.append(
            DriverRange(*(part.integer(name, 0, LARGEST_SIZE) for name in ("from", "to", "pin"))),
        )
    table.sort(key=lambda entry: entry.low)
    if not table and fields.read("drivers"):
        fields.refuse("drivers", "value", said("the table has no row; give one for every plug total."))
    ends = [-1, *(entry.high for entry in table)]
    if any(entry.low <= end or entry.high < entry.low for entry, end in zip(table, ends, strict=False)):
        reason = said("a plug total stands in two rows or a row ends before it begins.")
        fields.refuse("drivers", "value", reason)
    return tuple(table)


def _pins(fields: Fields) -> PinKit:
    part = fields.part("pins", ROLES)
    return PinKit(*(_sizes(part, role) for role in ROLES))


def _sizes(part: Fields, role: str) -> tuple[int, ...]:
    if role == "control" and not part.has(role):
        return ()
    return tuple(sorted(set(part.integers(role, 0, LARGEST_SIZE))))


def _compare(parsed: CoreFormat, fields: Fields) -> None:
    """Checks that need two parameters, each made only if both could be read."""
    if fields.read("depths", "depth_values") and len(parsed.depths) != len(parsed.depth_values):
        reason = said("{depths} numbers are expected, one per depth.", depths=len(parsed.depths))
        fields.refuse("depth_values", "value", reason)
    if fields.read("positions", "control") and max(parsed.sleeve, default=0) > parsed.positions:
        reason = said(
            "the sleeve covers a position above {positions}; correct it.", positions=parsed.positions
        )
        fields.refuse("control", "value", reason)
    if fields.read("total", "drivers") and parsed.total.plain is not None and parsed.drivers is not None:
        fields.refuse("drivers", "value", said("a plain total is given too; keep one of the two."))
    if fields.read("positions", "control", "total", "drivers"):
        _compare_drivers(parsed, fields)
    if fields.read("depths", "depth_values", "increment_in", "base_pin_in", "plug_diameter_in"):
        _compare_plug(parsed, fields)


def _compare_plug(parsed: CoreFormat, fields: Fields) -> None:
    left = parsed.root_depth_in(parsed.depth_values[-1]) if parsed.depth_values else None
    if left is not None and left <= 0:
        reason = said("the deepest cut would leave nothing of the key.")
        fields.refuse("plug_diameter_in", "value", reason)


def _compare_drivers(parsed: CoreFormat, fields: Fields) -> None:
    if parsed.sleeve and parsed.total.sleeve is None:
        reason = said("give `sleeve`, what a stack under the sleeve adds up to.")
        fields.refuse("total", "missing", reason)
    if parsed.sleeve and not parsed.pins.control and fields.read("pins"):
        fields.refuse("pins", "missing", said("give the `control` sizes that the kit has."))
    covered = len(parsed.sleeve) >= parsed.positions
    if not covered and parsed.total.plain is None and parsed.drivers is None:
        reason = said("give `plain`, or a table of `drivers`, for positions without a sleeve.")
        fields.refuse("total", "missing", reason)


def to_mapping(format: CoreFormat) -> dict[str, Any]:
    """Every parameter, ready for JSON; `parse_format` takes it back unchanged."""
    plain = {name: getattr(format, name) for name in FIELDS}
    plain["depth_values"] = list(format.depth_values)
    plain["control"] = _control_mapping(format.control)
    plain["total"] = {"plain": format.total.plain, "sleeve": format.total.sleeve}
    if format.drivers is not None:
        plain["drivers"] = [{"from": row.low, "to": row.high, "pin": row.pin} for row in format.drivers]
    plain["pins"] = {role: list(format.pins.sizes(role)) for role in ROLES}
    return plain


def _control_mapping(control: Control | None) -> dict[str, Any] | None:
    if control is None:
        return None
    if control.kind != "sleeve":
        return {"kind": control.kind}
    return {
        "kind": control.kind,
        "positions": list(control.positions),
        "addition": control.addition,
        "numbering": control.numbering,
    }


@cache
def _shelf() -> dict[str, CoreFormat]:
    files = sorted((resources.files("pinning") / "data").iterdir(), key=lambda file: file.name)
    tables = [tomllib.loads(file.read_text("utf-8")) for file in files if file.name.endswith(".toml")]
    formats = [_of_table(table, positions) for table in tables for positions in table["positions"]]
    return {format.id: format for format in formats}


def _of_table(table: dict[str, Any], positions: int) -> CoreFormat:
    """One construction's file holds all its lengths: `positions` lists them, `{positions}` stands for one."""
    filled = table | {"positions": positions}
    filled |= {name: table[name].format(positions=positions) for name in ("id", "name")}
    filled["pins"] = {role: list(range(low, high + 1)) for role, (low, high) in table["pins"].items()}
    if table.get("control", {}).get("positions") == "all":
        filled["control"] = table["control"] | {"positions": list(range(1, positions + 1))}
    return parse_format(filled)


def load_all() -> tuple[CoreFormat, ...]:
    """Every format that comes with the package, by id."""
    return tuple(_shelf()[format_id] for format_id in sorted(_shelf()))


def load(format_id: str) -> CoreFormat:
    """The format of that id; raises `Refused` (code `unknown_format`)."""
    if format_id in _shelf():
        return _shelf()[format_id]
    message = said(
        "{format} is no known format; use one of {known}.",
        format=repr(format_id[:40]),
        known=tuple(sorted(_shelf())),
    )
    raise Refused([Refusal("unknown_format", message)])
