"""From the form's fields to the engine's parameters, and back for a copy."""

from decimal import Decimal
from typing import Any

from keyctl import engine
from keyctl.engine import CoreFormat
from keyctl.formats.wording import has_own_count
from keyctl.lib import lengths

PER_INCH = {"thousandths": Decimal(1000), "inches": Decimal(1), "mm": lengths.MM_PER_INCH}
LENGTHS = {
    "increment_in": "increment",
    "base_pin_in": "base_pin",
    "first_cut_in": "first_cut",
    "spacing_in": "spacing",
    "plug_diameter_in": "plug_diameter",
}
# Parameter and field carry the same name and the same value.
SAME = ("positions", "depths", "step", "macs", "order")
ROLES = ("bottom", "master", "control", "top")
UNIT = "thousandths"


def parameters_from(said: dict[str, Any]) -> dict[str, Any]:
    """The engine's parameters, as far as the fields could be read."""
    per_inch = PER_INCH[said.get("unit", UNIT)]
    return {
        **{name: said.get(name) for name in SAME},
        **{name: _in_inches(said.get(field), per_inch) for name, field in LENGTHS.items()},
        "depth_values": said.get("depth_values") or None,
        "control": _control(said),
        "total": {"plain": said.get("total_plain"), "sleeve": said.get("total_sleeve")},
        "drivers": said.get("drivers") or None,
        "pins": {role: said.get(f"pins_{role}") for role in ROLES},
    }


def _in_inches(length: Decimal | None, per_inch: Decimal) -> float | None:
    return None if length is None else float(length / per_inch)


def _control(said: dict[str, Any]) -> dict[str, Any] | None:
    kind = said.get("control_kind")
    if kind in (None, "none"):
        return None
    if kind != "sleeve":
        return {"kind": kind}
    return {
        "kind": kind,
        "positions": said.get("sleeve_positions") or None,
        "addition": said.get("addition"),
        "numbering": said.get("numbering") or "absolute",
    }


def typed(format: CoreFormat) -> dict[str, Any]:
    """What one would type into the form to get this format again; a copy takes its own name and id."""
    known = engine.format_parameters(format)
    control, total = known["control"] or {"kind": "none"}, known["total"]
    unit = unit_here()
    return {
        "construction": known["construction"],
        **{name: known[name] for name in SAME},
        **{field: _in_unit(known.get(name), unit) for name, field in LENGTHS.items()},
        "unit": unit,
        "depth_values": known["depth_values"] if has_own_count(format) else None,
        "control_kind": control["kind"],
        "sleeve_positions": control.get("positions"),
        "addition": control.get("addition"),
        "numbering": control.get("numbering"),
        "total_plain": total["plain"],
        "total_sleeve": total["sleeve"],
        "drivers": known.get("drivers"),
        **{f"pins_{role}": known["pins"][role] or None for role in ROLES},
    }


def unit_here() -> str:
    """In which a new format is typed: the reader's."""
    return "mm" if lengths.reads_mm() else UNIT


def _in_unit(length: float | None, unit: str) -> Decimal | None:
    """What binary figures add to a length that was typed in millimetres is taken off again."""
    if length is None:
        return None
    return (Decimal(str(length)) * PER_INCH[unit]).quantize(lengths.GRAIN).normalize() + 0
