"""Who opens a door: keys by symbols, never people, never cuts; and who would, with another core in it."""

from typing import Any

from keyctl.cores.models import Core
from keyctl.cores.selectors import openers_of
from keyctl.cores.services import exchange_core
from tests.api.client import Api, problem
from tests.api.estate import Estate
from tests.cast import Cast
from tests.factories import change_key, install, make_core, make_housing


def openers(api: Api, estate: Estate, **query: Any) -> list[dict[str, Any]]:
    rows: list[dict[str, Any]] = api.get(f"doors/{estate.door.pk}/openers/", **query).json()["results"]
    return rows


def what(row: dict[str, Any]) -> tuple[str, ...]:
    return row["key"], row["housing"], row["core"]["id"], row["effect"], row["route"]


def test_each_opener_says_what_it_does_and_why(api: Api, estate: Estate) -> None:
    change = next(row for row in openers(api, estate) if row["symbol"] == change_key(estate.system).symbol)
    assert change == {
        "key": str(change_key(estate.system).pk),
        "symbol": change_key(estate.system).symbol,
        "system": estate.system.code,
        "effect": "turns",
        "planned": True,
        "route": "the core is keyed to it",
        "copies_held": 1,
        "core": {"id": str(estate.core.pk), "tag": estate.core.tag},
        "housing": str(estate.housing.pk),
        "door": {
            "id": str(estate.door.pk),
            "number": "E-1.04",
            "building": {"id": str(estate.door.building.pk), "code": estate.door.building.code},
        },
        "change": "none",
    }


def test_the_control_key_takes_the_core_out(api: Api, estate: Estate) -> None:
    assert {row["effect"] for row in openers(api, estate) if row["symbol"] == "CTR"} == {"withdraws"}


def test_the_answer_is_the_same_as_on_the_page(api: Api, estate: Estate, cast: Cast) -> None:
    shown = {(str(each.symbol), each.is_planned) for each in openers_of(cast.locksmith, estate.door)}
    assert {(row["symbol"], row["planned"]) for row in openers(api, estate)} == shown
    assert len(shown) >= 4  # change key, its master, the top master, control


def test_all_of_them_are_found_page_by_page(api: Api, estate: Estate) -> None:
    found, answer = [], api.get(f"doors/{estate.door.pk}/openers/", limit=1).json()
    while answer["next"]:
        found += answer["results"]
        answer = api.follow(answer["next"]).json()
    assert found + answer["results"] == openers(api, estate)


def test_what_an_imagined_core_would_change_is_what_it_does_change(
    api: Api, estate: Estate, cast: Cast
) -> None:
    """The referee is the act itself."""
    other = make_core(
        actor=cast.locksmith, site=cast.north, system=estate.system, symbols=[change_key(estate.system, 2)]
    )
    install(
        make_core(actor=cast.locksmith, site=cast.north, system=estate.system),
        make_housing(door=estate.door, label="Lower"),
    )
    before = openers(api, estate)
    imagined = openers(api, estate, housing=estate.housing.pk, core=other.pk)
    assert openers(api, estate) == before
    exchange_core(
        actor=cast.locksmith,
        housing=estate.housing,
        core_in=other,
        core_in_version=other.version,
        core_out_id=estate.core.pk,
        put_at=Core.Place.SHELF,
    )
    after = {what(row) for row in openers(api, estate)}
    assert {what(row) for row in imagined if row["change"] != "lost"} == after
    assert {what(row) for row in imagined if row["change"] != "gained"} == {what(row) for row in before}
    assert {row["change"] for row in imagined} == {"none", "gained", "lost"}


def test_half_a_question_and_another_doors_housing_are_told(api: Api, estate: Estate, cast: Cast) -> None:
    path, elsewhere = f"doors/{estate.door.pk}/openers/", make_housing(cast.north)
    half = problem(api.get(path, housing=estate.housing.pk), 400, "invalid")
    assert [error["parameter"] for error in half["errors"]] == ["core"]
    other = problem(api.get(path, housing=elsewhere.pk, core=estate.spare.pk), 400, "invalid")
    assert [error["parameter"] for error in other["errors"]] == ["housing"]


def test_a_core_that_would_be_refused_is_not_imagined(api: Api, estate: Estate, cast: Cast) -> None:
    """In the words of the act: it sits in a door, or has no pins."""
    path = f"doors/{estate.door.pk}/openers/"
    blank = make_core(actor=cast.locksmith, site=cast.north, system=estate.system, pinned=False)
    for core, words in ((estate.core, "is in"), (blank, "not pinned")):
        answer = problem(api.get(path, housing=estate.housing.pk, core=core.pk), 422, "refused")
        assert words in answer["detail"]


def test_a_foreign_door_and_foreign_things_are_not_found(
    api: Api, foreign: Api, estate: Estate, cast: Cast
) -> None:
    problem(foreign.get(f"doors/{estate.door.pk}/openers/"), 404, "not-found")
    theirs = make_housing(cast.south)
    answer = problem(
        api.get(f"doors/{estate.door.pk}/openers/", housing=theirs.pk, core=estate.spare.pk), 400, "invalid"
    )
    assert [error["parameter"] for error in answer["errors"]] == ["housing"]
