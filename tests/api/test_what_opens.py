"""Which doors a key and a holder open, and what a change would do; the referee is the change itself."""

from collections.abc import Iterable
from typing import Any

import pytest

from keyctl.cores.models import Core
from keyctl.cores.services import exchange_core
from keyctl.keys.services import return_keys
from keyctl.places.models import Housing
from keyctl.systems.models import KeySymbol
from tests.api.client import Api, make_api, problem
from tests.api.estate import Estate, issue
from tests.cast import Cast
from tests.factories import change_key, install, make_core, make_door, make_holder, make_housing, symbol

Rows = list[dict[str, Any]]


@pytest.fixture
def house(estate: Estate, cast: Cast) -> list[Housing]:
    """A door for every change key, one of them with a second lock."""
    found = [estate.housing]
    for nth in (1, 2, 3):
        housing = make_housing(door=make_door(cast.north))
        found.append(housing)
        fill(estate, cast, housing, change_key(estate.system, nth))
    second = make_housing(door=found[1].door, label="Lower")
    fill(estate, cast, second, change_key(estate.system))
    return [*found, second]


def fill(estate: Estate, cast: Cast, housing: Housing, key: KeySymbol) -> None:
    install(make_core(actor=cast.locksmith, site=cast.north, system=estate.system, symbols=[key]), housing)


def rows(api: Api, path: str, **query: Any) -> Rows:
    """Every page, three rows at a time."""
    answer = api.get(path, limit=3, **query).json()
    found: Rows = answer["results"]
    while answer["next"]:
        answer = api.follow(answer["next"]).json()
        found += answer["results"]
    return found


def by_door(found: Rows, side: str) -> dict[str, set[str]]:
    return {row["door"]["id"]: {key["symbol"] for key in row[side]} for row in found if row[side]}


def on_cores(found: Iterable[dict[str, Any]]) -> set[tuple[str, ...]]:
    return {(row["door"]["id"], row["housing"], row["core"]["id"], row["effect"]) for row in found}


@pytest.mark.usefixtures("house")
def test_a_key_more_opens_what_it_opens_once_it_is_handed_out(api: Api, estate: Estate, cast: Cast) -> None:
    path = f"holders/{estate.holder.pk}/doors/"
    for name in ("AB1", "AA", "A", "AA1"):
        key = symbol(estate.system, name)
        before, imagined = rows(api, path), rows(api, path, with_key=key.pk)
        assert by_door(imagined, "now") == by_door(before, "now")
        issue(key, estate.holder, desk=cast.desk)
        assert by_door(imagined, "then") == by_door(rows(api, path), "now")
        gained = by_door(imagined, "then").keys() - by_door(imagined, "now").keys()
        assert {row["door"]["id"] for row in imagined if row["change"] == "gained"} == gained
        assert rows(api, path, with_key=key.pk, change="gained") == []


@pytest.mark.usefixtures("house")
def test_a_copy_less_loses_what_is_lost_once_it_is_back(api: Api, estate: Estate, cast: Cast) -> None:
    """A second copy of the key goes on opening its doors."""
    path = f"holders/{estate.holder.pk}/doors/"
    copies = [issue(symbol(estate.system, name), estate.holder, desk=cast.desk) for name in ("AA1", "AB")]
    lost = []
    for copy in (estate.copy, *copies):
        imagined = rows(api, path, without_copy=copy.pk)
        only = {row["door"]["id"] for row in rows(api, path, without_copy=copy.pk, change="lost")}
        return_keys(actor=cast.desk, copies=[copy], cabinet=estate.cabinet)
        assert by_door(imagined, "then") == by_door(rows(api, path), "now")
        assert {row["door"]["id"] for row in imagined if row["change"] == "lost"} == only
        lost.append(len(only))
    assert lost == [0, 2, 2]


def test_one_key_for_another_is_asked_at_once(api: Api, estate: Estate, house: list[Housing]) -> None:
    path, other = f"holders/{estate.holder.pk}/doors/", change_key(estate.system, 3)
    imagined = rows(api, path, with_key=other.pk, without_copy=estate.copy.pk)
    assert by_door(imagined, "then") == {str(house[3].door_id): {other.symbol}}
    assert {row["change"] for row in imagined} == {"gained", "lost"}
    stays = rows(api, path, with_key=symbol(estate.system, "AA").pk, change="none")
    assert {row["door"]["id"] for row in stays} == by_door(imagined, "now").keys()


def test_a_copy_of_somebody_else_is_not_taken_from_the_hand(api: Api, estate: Estate, cast: Cast) -> None:
    other = make_holder(cast.north)
    answer = api.get(f"holders/{other.pk}/doors/", without_copy=estate.copy.pk)
    assert "not out with this holder" in problem(answer, 422, "refused")["detail"]


def test_every_key_opens_what_the_imagined_core_says(
    api: Api, estate: Estate, cast: Cast, house: list[Housing]
) -> None:
    other = make_core(
        actor=cast.locksmith, site=cast.north, system=estate.system, symbols=[change_key(estate.system, 2)]
    )
    keys = list(estate.system.symbols.all())
    asked = {"housing": house[1].pk, "core": other.pk}
    imagined = {key.pk: rows(api, f"keys/{key.pk}/doors/", **asked) for key in keys}
    before = {key.pk: rows(api, f"keys/{key.pk}/doors/") for key in keys}
    exchange_core(
        actor=cast.locksmith,
        housing=house[1],
        core_in=other,
        core_in_version=other.version,
        core_out_id=house[1].cores.get().pk,
        put_at=Core.Place.SHELF,
    )
    for key in keys:
        told = imagined[key.pk]
        assert on_cores(row for row in told if row["change"] != "gained") == on_cores(before[key.pk])
        after = rows(api, f"keys/{key.pk}/doors/")
        assert on_cores(row for row in told if row["change"] != "lost") == on_cores(after)
    assert {row["change"] for told in imagined.values() for row in told} == {"none", "gained", "lost"}


def test_a_key_on_the_bench_opens_no_door(api: Api, estate: Estate) -> None:
    """The spare core lies on the bench: the key turns it, and it is in no door."""
    found = rows(api, f"keys/{estate.key.pk}/doors/")
    assert [row["core"]["tag"] for row in found] == [estate.core.tag]


def test_doors_of_other_sites_are_left_out(estate: Estate, cast: Cast) -> None:
    estate.system.sites.add(cast.south)
    theirs = make_housing(cast.south)
    core = make_core(actor=cast.stranger, site=cast.south, system=estate.system)
    install(core, theirs)
    api = make_api(cast.administrator, cast.north)
    assert on_cores(rows(api, f"keys/{estate.key.pk}/doors/")) == {
        (str(estate.door.pk), str(estate.housing.pk), str(estate.core.pk), "turns")
    }
    assert len(rows(api, f"holders/{estate.holder.pk}/doors/")) == 1


@pytest.mark.parametrize("name", ["with_key", "without_copy"])
def test_what_the_token_does_not_reach_is_no_part_of_a_question(
    api: Api, estate: Estate, cast: Cast, name: str
) -> None:
    path = f"holders/{estate.holder.pk}/doors/"
    answer = problem(api.get(path, **{name: cast.south.pk}), 400, "invalid")
    assert [error["parameter"] for error in answer["errors"]] == [name]
    problem(api.get(path, fields="door"), 400, "invalid")
