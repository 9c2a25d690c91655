"""Invented formats and the form that makes them, as a person would fill it in."""

from typing import Any

from keyctl import engine
from keyctl.accounts.models import User
from keyctl.formats.models import ShopFormat
from keyctl.formats.services import make_format

# Invented: depths 1 to 9 and 0, where 0 means ten; a sleeve over two of five positions.
TEN_IS_NOUGHT: dict[str, Any] = {
    "positions": 5,
    "depths": "1234567890",
    "depth_values": [1, 2, 3, 4, 5, 6, 7, 8, 9, 10],
    "increment_in": 0.014,
    "base_pin_in": 0.15,
    "step": 1,
    "macs": None,
    "order": "bow-tip",
    "control": {"kind": "sleeve", "positions": [2, 3], "addition": 11, "numbering": "relative"},
    "total": {"plain": 12, "sleeve": 24},
    "drivers": None,
    "pins": {
        "bottom": list(range(1, 11)),
        "master": list(range(1, 11)),
        "control": list(range(1, 21)),
        "top": list(range(1, 13)),
    },
}

# The same as fields of the page.
TYPED = {
    "name": "Invented, nought is ten",
    "format_id": "own-ten",
    "construction": "large-format",
    "positions": "5",
    "order": "bow-tip",
    "depths": "1234567890",
    "depth_values": "1-10",
    "step": "1",
    "macs": "",
    "unit": "thousandths",
    "increment": "14",
    "base_pin": "150",
    "control_kind": "sleeve",
    "sleeve_positions": "2-3",
    "addition": "11",
    "numbering": "relative",
    "total_sleeve": "24",
    "total_plain": "12",
    "drivers": "",
    "pins_bottom": "1-10",
    "pins_master": "1-10",
    "pins_control": "1-20",
    "pins_top": "1-12",
    "first_cut": "",
    "spacing": "",
    "plug_diameter": "",
}


def make(actor: User, format_id: str, **facts: Any) -> ShopFormat:
    parameters = facts.pop("parameters", TEN_IS_NOUGHT)
    facts.setdefault("name", f"Invented {format_id}")
    facts.setdefault("construction", "large-format")
    return make_format(actor=actor, format_id=format_id, parameters=parameters, **facts)


def typed(**changes: str) -> dict[str, str]:
    return TYPED | changes


def built_in(format_id: str, **changes: Any) -> dict[str, Any]:
    """The parameters of a format of the package, as a shop would start from them."""
    return engine.format_parameters(engine.load_format(format_id)) | changes
