"""Bringing lists in, looking at reconstructions, and making systems of them."""

from keyctl.inherited.services.bringing import (
    bring_list,
    choose_columns,
    leave_list,
    start_check,
    start_writing,
)
from keyctl.inherited.services.making import make_system
from keyctl.inherited.services.reconstructing import Asked, look_at_reconstruction

__all__ = [
    "Asked",
    "bring_list",
    "choose_columns",
    "leave_list",
    "look_at_reconstruction",
    "make_system",
    "start_check",
    "start_writing",
]
