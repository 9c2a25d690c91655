"""What the database itself refuses of imports; tried one by one in tests of invariants."""

from collections.abc import Callable
from typing import Any
from uuid import uuid4

from django.utils import timezone

from keyctl.imports.models import Change, Import, ImportFault, ImportHabit
from tests.cast import Cast


def an_import(cast: Cast, **facts: Any) -> Import:
    facts = {"kind": "doors", "name": "d.csv", "digest": "0" * 64, "content": b"sealed"} | facts
    return Import.objects.create(site=cast.north, uploaded_by=cast.locksmith, **facts)


def two_changes(cast: Cast, *rows: dict[str, Any]) -> None:
    imported = an_import(cast)
    for number, row in enumerate(rows):
        facts = {"position": number, "thing": "doors", "thing_id": uuid4(), "act": "create"} | row
        Change.objects.create(imported=imported, label="A 101", **facts)


def two_faults(cast: Cast) -> None:
    imported = an_import(cast)
    for _ in range(2):
        ImportFault.objects.create(imported=imported, position=1, message="Fill it in.")


def two_habits(cast: Cast) -> None:
    for _ in range(2):
        ImportHabit.objects.create(site=cast.north, kind="doors")


SAME = uuid4()
FORBIDDEN: dict[str, Callable[[Cast], object]] = {
    "import_file_is_deleted_when_it_ends": lambda cast: an_import(cast, state="left"),
    "import_is_tried_before_it_is_taken": lambda cast: an_import(cast, state="checked"),
    "import_that_is_taken_says_when": lambda cast: an_import(
        cast, state="taken", content=None, checked_at=timezone.now()
    ),
    "change_has_its_own_place": lambda cast: two_changes(cast, {"position": 1}, {"position": 1}),
    "change_is_made_once": lambda cast: two_changes(cast, {"thing_id": SAME}, {"thing_id": SAME}),
    "change_that_was_refused_says_why": lambda cast: two_changes(cast, {"state": "kept"}),
    "import_fault_has_its_own_place": two_faults,
    "import_habit_is_kept_once": two_habits,
}
