"""What neither a kept view nor an act on many rows may be, for the test that asks the database itself."""

from collections.abc import Callable
from typing import Any
from uuid import uuid4

from django.utils import timezone

from keyctl.listing.models import BulkAct, BulkRow, ListChoice, SavedView
from tests.cast import Cast


def a_view(cast: Cast, times: int = 1, **facts: Any) -> None:
    for _ in range(times):
        SavedView.objects.create(**{"owner": cast.locksmith, "list_name": "doors", "name": "Labs"} | facts)


def two_choices(cast: Cast) -> None:
    for _ in range(2):
        ListChoice.objects.create(person=cast.locksmith, list_name="doors")


def an_act(cast: Cast, **facts: Any) -> BulkAct:
    return BulkAct.objects.create(list_name="doors", act="class", actor=cast.locksmith, **facts)


def a_row(cast: Cast, *rows: dict[str, Any]) -> None:
    bulk = an_act(cast)
    for nth, facts in enumerate(rows):
        BulkRow.objects.create(**{"bulk": bulk, "position": nth, "row_id": uuid4(), "label": "Door"} | facts)


def one_row_twice(cast: Cast) -> None:
    same = uuid4()
    a_row(cast, {"row_id": same}, {"row_id": same})


FORBIDDEN: dict[str, Callable[[Cast], object]] = {
    "saved_view_has_its_own_name": lambda cast: a_view(cast, times=2),
    "saved_view_says_of_which_list": lambda cast: a_view(cast, name=""),
    "list_is_chosen_once_a_person": two_choices,
    "bulk_act_that_is_done_says_when": lambda cast: an_act(cast, state="done"),
    "bulk_act_that_is_undone_says_when": lambda cast: an_act(cast, undone_at=timezone.now()),
    "bulk_row_has_its_own_place": lambda cast: a_row(cast, {"position": 1}, {"position": 1}),
    "bulk_row_is_chosen_once": one_row_twice,
    "bulk_row_that_was_refused_says_why": lambda cast: a_row(cast, {"state": "refused"}),
    "bulk_row_that_was_done_says_what_it_left": lambda cast: a_row(cast, {"state": "done"}),
}
