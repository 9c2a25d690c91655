"""What a person does with a list: columns, kept views, and acts on many rows."""

from keyctl.listing.services.beginning import begin_act
from keyctl.listing.services.choosing import choose_columns, open_with
from keyctl.listing.services.keeping import change_view, keep_view, remove_view
from keyctl.listing.services.stepping import carry_on, do_act, drop_act, sweep, try_act, undo_act

__all__ = [
    "begin_act",
    "carry_on",
    "change_view",
    "choose_columns",
    "do_act",
    "drop_act",
    "keep_view",
    "open_with",
    "remove_view",
    "sweep",
    "try_act",
    "undo_act",
]
