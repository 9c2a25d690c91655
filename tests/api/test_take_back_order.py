"""Orders are found by more than their kind; a program takes back what it opened while nobody has begun."""

from typing import Any

import pytest
from django.utils import timezone

from keyctl.audit.selectors import history_of
from keyctl.orders.models import WorkOrder
from keyctl.orders.services import start_order
from tests.api.client import Api, problem
from tests.api.estate import Estate
from tests.cast import Cast
from tests.factories import make_door, make_housing


@pytest.fixture
def opened(api: Api, cast: Cast) -> Any:
    """An order of the program's own."""
    housing = make_housing(cast.north)
    body = {"kind": "swap", "site": str(cast.north.pk), "title": "Yearly", "housings": [str(housing.pk)]}
    return api.post("work-orders/", body)


def cancel(api: Api, pk: Any) -> Any:
    path = f"work-orders/{pk}/"
    return api.post(path + "cancel/", {}, match=api.get(path)["ETag"])


def test_a_program_takes_its_own_order_back(api: Api, opened: Any) -> None:
    answer = api.post(f"work-orders/{opened.json()['id']}/cancel/", {}, match=opened["ETag"])
    assert answer.json()["state"] == "cancelled"
    assert {line["state"] for line in answer.json()["lines"]} == {"cancelled"}
    told = history_of(WorkOrder.objects.get(pk=opened.json()["id"]))[0]
    assert (told.verb, told.actor_name) == ("order.cancelled", "Invented integration")
    problem(cancel(api, opened.json()["id"]), 409, "conflict")


def test_what_a_locksmith_opened_or_began_stays(api: Api, opened: Any, estate: Estate, cast: Cast) -> None:
    assert "opened by somebody else" in problem(cancel(api, estate.order.pk), 422, "refused")["detail"]
    start_order(actor=cast.locksmith, order=WorkOrder.objects.get(pk=opened.json()["id"]))
    assert "under way" in problem(cancel(api, opened.json()["id"]), 409, "conflict")["detail"]


def test_a_foreign_order_is_not_found(foreign: Api, estate: Estate) -> None:
    problem(foreign.post(f"work-orders/{estate.order.pk}/cancel/", {}, match='"0"'), 404, "not-found")


def test_the_same_key_sent_twice_opens_one(api: Api, cast: Cast) -> None:
    housing = make_housing(cast.north)
    body = {"kind": "swap", "site": str(cast.north.pk), "title": "Once", "housings": [str(housing.pk)]}
    first, again = (api.post("work-orders/", body, key="one") for _ in range(2))
    assert first.json() == again.json()
    assert WorkOrder.objects.filter(title="Once").count() == 1


def test_orders_are_found(api: Api, opened: Any, estate: Estate, cast: Cast) -> None:
    mine, theirs = [opened.json()["id"]], [str(estate.order.pk)]
    assert api.ids("work-orders/", is_own=True) == mine
    assert api.ids("work-orders/", is_own=False) == theirs
    assert api.ids("work-orders/", number=estate.order.number) == theirs
    assert api.ids("work-orders/", core=estate.spare.pk) == theirs
    assert api.ids("work-orders/", door=estate.door.pk) == theirs
    assert api.ids("work-orders/", door=make_door(cast.north).pk) == []
    assert api.ids("work-orders/", q="YEARLY") == mine
    assert api.ids("work-orders/", opened_since=timezone.now().isoformat()) == []
    WorkOrder.objects.filter(pk=estate.order.pk).update(
        due_on="2030-01-31", state="done", closed_at=timezone.now()
    )
    assert api.ids("work-orders/", due_before="2030-02-01") == theirs
    assert api.ids("work-orders/", is_open=True) == mine
    assert api.ids("work-orders/", is_open=False) == theirs
    assert api.ids("work-orders/", part_of=estate.order.pk) == []
