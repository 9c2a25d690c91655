"""Writes of key systems: designing them, adding keys, and opening what is sealed."""

from keyctl.systems.services.adding import add_symbols, open_system
from keyctl.systems.services.designing import design_system
from keyctl.systems.services.sealed import bitting_of, design_of, is_designed
from keyctl.systems.services.storing import NewKey

__all__ = [
    "NewKey",
    "add_symbols",
    "bitting_of",
    "design_of",
    "design_system",
    "is_designed",
    "open_system",
]
