"""Key systems, keys and copies: by symbols and serials, never cuts; people only by their scope."""

from datetime import timedelta
from typing import Any

import pytest
from django.utils import timezone

from keyctl.keys.services import report_lost, return_keys
from tests.api.client import SCOPES, Api, make_api, problem
from tests.api.estate import NAME, Estate
from tests.cast import Cast
from tests.factories import change_key, make_copy, make_system, symbol


def test_a_key_system_says_what_it_is_and_where_it_is_used(api: Api, estate: Estate, cast: Cast) -> None:
    estate.system.sites.add(cast.south)
    answer = api.get(f"key-systems/{estate.system.pk}/").json()
    assert answer.pop("created_at")
    assert answer == {
        "id": str(estate.system.pk),
        "code": estate.system.code,
        "name": estate.system.name,
        "format": "small-a2-7",
        "keyway": estate.system.keyway,
        "levels": 3,
        "sites": [{"id": str(cast.north.pk), "code": "NORTH"}],
    }


def test_a_shared_system_is_listed_once(api: Api, both: Api, estate: Estate, cast: Cast) -> None:
    estate.system.sites.add(cast.south)
    assert both.ids("key-systems/") == [str(estate.system.pk)]
    assert both.ids("key-systems/", site=cast.south.pk) == [str(estate.system.pk)]
    assert both.ids("keys/", site=cast.south.pk) == api.ids("keys/", site=cast.north.pk) != []
    # What a site out of reach uses is not told.
    assert api.ids("key-systems/", site=cast.south.pk) == api.ids("keys/", site=cast.south.pk) == []
    assert api.ids("key-systems/", code=estate.system.code.lower()) == []


def test_the_tree_of_keys_is_read_by_parents(api: Api, estate: Estate) -> None:
    top = api.get("keys/", system=estate.system.code, level=0).json()["results"]
    assert [(row["symbol"], row["kind"], row["parent"]) for row in top] == [("A", "master", None)]
    below = api.get("keys/", parent=top[0]["id"]).json()["results"]
    assert {row["symbol"] for row in below} == {"AA", "AB"}
    assert {row["parent"]["symbol"] for row in below} == {"A"}
    control = api.get("keys/", kind="control").json()["results"]
    assert [(row["symbol"], row["level"]) for row in control] == [("CTR", None)]


def test_a_retired_key_says_since_when(api: Api, estate: Estate) -> None:
    key = change_key(estate.system)
    assert api.ids("keys/", is_retired=True) == []
    key.retired_at = timezone.now()
    key.save()
    assert api.ids("keys/", is_retired=True) == [str(key.pk)]
    assert str(key.pk) not in api.ids("keys/", is_retired=False)
    assert api.get(f"keys/{key.pk}/").json()["retired_at"]


def test_a_copy_says_where_it_is_and_who_has_it(api: Api, estate: Estate) -> None:
    copy = api.get(f"key-copies/{estate.copy.pk}/").json()
    assert copy["holder"] == {"id": str(estate.holder.pk), "name": NAME}
    assert (copy["state"], copy["cabinet"], copy["key"]["symbol"]) == ("held", None, estate.key.symbol)
    assert copy["out_since"]
    assert "symbol" not in copy


def test_without_the_scope_for_holders_nobody_has_it(cast: Cast, estate: Estate) -> None:
    api = make_api(cast.administrator, cast.north, scopes=[s for s in SCOPES if "holders" not in s])
    answer = api.get(f"key-copies/{estate.copy.pk}/")
    assert (answer.json()["state"], answer.json()["holder"]) == ("held", None)
    assert NAME.encode() not in answer.content
    narrowed = api.get("key-copies/", holder=estate.holder.pk)
    assert "holders:read" in problem(narrowed, 403, "forbidden")["detail"]


def found(api: Api, **query: Any) -> set[str]:
    return {row["serial"] for row in api.get("key-copies/", **query).json()["results"]}


def test_copies_are_found_by_where_they_are(api: Api, estate: Estate, cast: Cast) -> None:
    hung = make_copy(symbol(estate.system, "A"), estate.cabinet)
    lost = make_copy(symbol(estate.system, "AB1"), estate.cabinet)
    report_lost(actor=cast.desk, copy=lost)
    out = estate.copy
    assert found(api) == {out.serial, hung.serial, lost.serial}
    assert found(api, state="lost") == {lost.serial}
    assert found(api, cabinet=estate.cabinet.pk) == {hung.serial}
    assert found(api, holder=estate.holder.pk) == {out.serial}
    assert found(api, key=hung.symbol.pk) == {hung.serial}
    assert found(api, system=estate.system.code, site=cast.north.pk) == found(api)
    assert found(api, serial=str(hung).lower()) == {hung.serial}
    assert found(api, condition="broken") == set()


def test_copies_are_found_by_the_day_they_are_due(api: Api, estate: Estate) -> None:
    now = timezone.now()
    assert found(api, due_before=now.isoformat()) == set()
    line = estate.copy.custody
    assert line is not None
    line.due_at = now
    line.save()
    assert found(api, due_before=(now + timedelta(hours=1)).isoformat()) == {estate.copy.serial}
    assert api.get(f"key-copies/{estate.copy.pk}/").json()["due_at"]


def test_a_copy_that_is_back_hangs_in_its_cabinet(api: Api, estate: Estate, cast: Cast) -> None:
    return_keys(actor=cast.desk, copies=[estate.copy], cabinet=estate.cabinet)
    copy = api.get(f"key-copies/{estate.copy.pk}/").json()
    assert (copy["state"], copy["holder"], copy["out_since"]) == ("in-cabinet", None, None)
    assert copy["cabinet"] == {"id": str(estate.cabinet.pk), "name": estate.cabinet.name}


@pytest.mark.parametrize("path", ["key-systems", "keys", "cabinets", "key-copies"])
def test_keys_of_another_site_are_not_found(api: Api, foreign: Api, estate: Estate, path: str) -> None:
    (mine, *_) = api.ids(f"{path}/")
    problem(foreign.get(f"{path}/{mine}/"), 404, "not-found")
    assert foreign.ids(f"{path}/") == []


def test_a_system_of_another_site_brings_no_keys(api: Api, estate: Estate, cast: Cast) -> None:
    theirs = make_system(cast.south, actor=cast.stranger)
    assert api.ids("keys/", system=theirs.code) == []
    assert len(api.ids("keys/")) == estate.system.symbols.count()
