"""Opening an order: the same service, the same rules and the same history as on the page."""

import json
import uuid
from typing import Any

import pytest

from keyctl.audit.selectors import history_of
from keyctl.orders.models import WorkOrder
from keyctl.orders.services import cancel_order
from keyctl.places.models import Housing, Site
from tests.api.client import Api, problem
from tests.api.estate import Estate
from tests.cast import Cast
from tests.factories import make_core, make_housing


@pytest.fixture
def housing(cast: Cast) -> Housing:
    return make_housing(cast.north)


def swap(site: Site, *housings: Housing, **facts: Any) -> dict[str, Any]:
    ids = [str(housing.pk) for housing in housings]
    return {"kind": "swap", "site": str(site.pk), "title": "Yearly change", "housings": ids} | facts


def test_a_swap_order_is_opened_and_answered(api: Api, cast: Cast, housing: Housing) -> None:
    response = api.post("work-orders/", swap(cast.north, housing, due_on="2030-01-31"))
    assert response.status_code == 201, response.content
    answer = response.json()
    assert (answer["kind"], answer["title"], answer["due_on"]) == ("swap", "Yearly change", "2030-01-31")
    assert [line["housing"]["id"] for line in answer["lines"]] == [str(housing.pk)]


def test_its_address_stands_in_the_head(api: Api, cast: Cast, housing: Housing) -> None:
    response = api.post("work-orders/", swap(cast.north, housing))
    assert api.follow(response["Location"]).json() == response.json()


def test_a_pin_order_names_cores(api: Api, estate: Estate, cast: Cast) -> None:
    core = make_core(actor=cast.locksmith, site=cast.north, system=estate.system, pinned=False)
    body = {"kind": "pin", "site": str(cast.north.pk), "title": "New cores", "cores": [str(core.pk)]}
    answer = api.post("work-orders/", body).json()
    assert [line["core"]["tag"] for line in answer["lines"]] == [core.tag]


def test_history_names_the_integration(api: Api, cast: Cast, housing: Housing) -> None:
    api.post("work-orders/", swap(cast.north, housing))
    order = WorkOrder.objects.get()
    assert [event.actor_name for event in history_of(order)] == ["Invented integration"]


def test_the_lines_keep_the_order_of_the_request(api: Api, cast: Cast) -> None:
    housings = [make_housing(cast.north) for _ in range(4)]
    answer = api.post("work-orders/", swap(cast.north, *housings)).json()
    assert [line["housing"]["id"] for line in answer["lines"]] == [str(each.pk) for each in housings]


def test_what_the_service_refuses_is_a_problem_with_its_reasons(api: Api, estate: Estate) -> None:
    body = problem(api.post("work-orders/", swap(estate.site, estate.housing)), 422, "refused")
    assert f"order {estate.order.number}" in body["errors"][0]["detail"]


def test_a_refused_order_leaves_nothing_behind(api: Api, estate: Estate, housing: Housing) -> None:
    api.post("work-orders/", swap(estate.site, housing, estate.housing))
    assert list(WorkOrder.objects.all()) == [estate.order]


def test_a_foreign_site_and_an_unknown_one_look_the_same(api: Api, cast: Cast, housing: Housing) -> None:
    foreign = problem(api.post("work-orders/", swap(cast.south, housing)), 400, "invalid")
    unknown = api.post("work-orders/", swap(cast.north, housing) | {"site": str(uuid.uuid4())}).json()
    assert foreign == unknown
    assert [error["pointer"] for error in foreign["errors"]] == ["#/site"]


def test_a_foreign_housing_is_told_by_its_place_in_the_body(api: Api, cast: Cast, housing: Housing) -> None:
    body = problem(
        api.post("work-orders/", swap(cast.north, housing, make_housing(cast.south))), 400, "invalid"
    )
    assert [error["pointer"] for error in body["errors"]] == ["#/housings/1"]


def test_a_housing_named_twice_is_told(api: Api, cast: Cast, housing: Housing) -> None:
    body = problem(api.post("work-orders/", swap(cast.north, housing, housing)), 400, "invalid")
    assert [error["pointer"] for error in body["errors"]] == ["#/housings/1"]


def test_each_missing_fact_is_named(api: Api) -> None:
    body = problem(api.post("work-orders/", {"kind": "swap"}), 400, "invalid")
    assert {error["pointer"] for error in body["errors"]} == {"#/site", "#/title", "#/housings"}


@pytest.mark.parametrize("body", [{}, {"kind": "rekey"}, {"kind": None}, [], "swap", 1, None])
def test_a_body_without_a_known_kind_is_refused(api: Api, body: Any) -> None:
    response = api.send("POST", "work-orders/", json.dumps(body).encode(), content_type="application/json")
    problem(response, 400, "invalid")


def test_a_fact_nobody_knows_is_refused(api: Api, cast: Cast, housing: Housing) -> None:
    body = problem(
        api.post("work-orders/", swap(cast.north, housing, **{"due/on": "2030-01-31"})), 400, "invalid"
    )
    assert [error["pointer"] for error in body["errors"]] == ["#/due~1on"]


def test_an_order_without_a_line_is_refused(api: Api, cast: Cast) -> None:
    body = problem(api.post("work-orders/", swap(cast.north)), 400, "invalid")
    assert [error["pointer"] for error in body["errors"]] == ["#/housings"]


def test_the_housing_is_free_again_when_the_order_is_cancelled(api: Api, estate: Estate, cast: Cast) -> None:
    cancel_order(actor=cast.locksmith, order=estate.order)
    assert api.post("work-orders/", swap(estate.site, estate.housing)).status_code == 201


def test_doors_are_inspected_and_kept_shut_and_cores_decoded(api: Api, estate: Estate, cast: Cast) -> None:
    core = make_core(actor=cast.locksmith, site=cast.north, system=estate.system, pinned=False)
    about = {"site": str(cast.north.pk), "title": "Work"}
    look = api.post(
        "work-orders/", about | {"kind": "inspect", "doors": [str(estate.housing.door_id)]}
    ).json()
    assert look["lines"][0]["door"]["id"] == str(estate.housing.door_id)
    shut = {"kind": "lock_out", "housings": [str(estate.housing.pk)], "asked_by": "Facilities"}
    kept = api.post("work-orders/", about | shut | {"until": "2100-01-31"}).json()
    assert (kept["lines"][0]["housing"]["id"], kept["lines"][0]["shut_at"]) == (str(estate.housing.pk), None)
    decode = api.post("work-orders/", about | {"kind": "decode", "cores": [str(core.pk)]}).json()
    assert (decode["kind"], decode["lines"][0]["core"]["tag"]) == ("decode", core.tag)


def test_a_lock_out_that_names_nobody_is_incomplete(api: Api, cast: Cast, housing: Housing) -> None:
    body = {"kind": "lock_out", "site": str(cast.north.pk), "title": "Work", "housings": [str(housing.pk)]}
    answer = problem(api.post("work-orders/", body), 400, "invalid")
    assert [error["pointer"] for error in answer["errors"]] == ["#/asked_by", "#/until"]
