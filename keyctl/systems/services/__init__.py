"""Writes of key systems: designing them, adding keys, and opening what is sealed."""

from keyctl.systems.services.adding import add_symbols, open_system
from keyctl.systems.services.designing import design_system
from keyctl.systems.services.drafting import discard_draft, make_keys, work_out
from keyctl.systems.services.extending import Plan, extend_system, plan_extension
from keyctl.systems.services.sealed import bitting_of, design_of, is_designed
from keyctl.systems.services.storing import NewKey

__all__ = [
    "NewKey",
    "Plan",
    "add_symbols",
    "bitting_of",
    "design_of",
    "design_system",
    "discard_draft",
    "extend_system",
    "is_designed",
    "make_keys",
    "open_system",
    "plan_extension",
    "work_out",
]
