from keyctl.directory.services.applying import apply_list, keep_missing, let_go
from keyctl.directory.services.leaving import (
    announce_person,
    deactivate_person,
    reactivate_person,
    remove_person,
)
from keyctl.directory.services.lists import bring_people, choose_columns, give_up_list, start_applying
from keyctl.directory.services.people import Taken, add_person, change_person, entry_of, tie_holder

__all__ = [
    "Taken",
    "add_person",
    "announce_person",
    "apply_list",
    "bring_people",
    "change_person",
    "choose_columns",
    "deactivate_person",
    "entry_of",
    "give_up_list",
    "keep_missing",
    "let_go",
    "reactivate_person",
    "remove_person",
    "start_applying",
    "tie_holder",
]
