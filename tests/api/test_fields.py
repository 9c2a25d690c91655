"""Sparse answers: the fields that were asked for, and nothing that nobody knows."""

from typing import Any

import pytest

from tests.api.client import Api, problem
from tests.api.estate import Estate


def test_a_detail_has_the_fields_that_were_asked_for(api: Api, estate: Estate) -> None:
    whole = api.get(f"buildings/{estate.door.building.pk}/").json()
    part = api.get(f"buildings/{estate.door.building.pk}/", fields="name,id").json()
    assert part == {name: whole[name] for name in ("id", "name")}
    assert list(part) == ["id", "name"]


def test_so_has_a_list(api: Api, estate: Estate) -> None:
    rows = api.get("doors/", fields="id,number").json()["results"]
    assert rows == [{"id": str(estate.door.pk), "number": "E-1.04"}]


def test_the_name_may_come_several_times(api: Api, estate: Estate) -> None:
    """As some programs write a list: `fields=id&fields=code`."""
    assert api.get("sites/", fields=["id", "code"]).json()["results"] == [
        {"id": str(estate.site.pk), "code": "NORTH"}
    ]


def test_the_next_page_asks_for_the_same(api: Api, estate: Estate) -> None:
    first = api.get("cores/", fields="tag", limit=1).json()
    second = api.follow(first["next"]).json()
    assert [set(row) for row in (*first["results"], *second["results"])] == [{"tag"}, {"tag"}]


@pytest.mark.parametrize("asked", ["pinning", "name,colour", "", ",", "Name", "site.code"])
@pytest.mark.parametrize("path", ["buildings/", "buildings/{pk}/"])
def test_an_unknown_field_is_refused(api: Api, estate: Estate, asked: str, path: str) -> None:
    pk = estate.door.building.pk
    told = problem(api.get(path.replace("{pk}", str(pk)), fields=asked), 400, "invalid")
    assert [error["parameter"] for error in told["errors"]] == ["fields"]


def test_a_detail_takes_no_other_parameter(api: Api, estate: Estate) -> None:
    told: Any = problem(api.get(f"doors/{estate.door.pk}/", limit=5), 400, "invalid")
    assert [error["parameter"] for error in told["errors"]] == ["limit"]


def test_fewer_fields_cost_no_more_queries(
    api: Api, estate: Estate, django_assert_max_num_queries: Any
) -> None:
    api.get("sites/")
    with django_assert_max_num_queries(6):
        api.get("doors/", fields="id")
