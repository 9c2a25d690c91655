"""Bringing files in, trying, taking and undoing them."""

from keyctl.imports.services.bringing import (
    bring_file,
    choose_columns,
    clear_imports,
    give_up,
    start_taking,
    start_trying,
    start_undoing,
)

__all__ = [
    "bring_file",
    "choose_columns",
    "clear_imports",
    "give_up",
    "start_taking",
    "start_trying",
    "start_undoing",
]
