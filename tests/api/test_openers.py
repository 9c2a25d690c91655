"""Who opens a door: keys by their symbols, never people, never cuts."""

from keyctl.cores.selectors import openers_of
from keyctl.keys.services import hand_out
from tests.api.client import Api, problem
from tests.api.estate import Estate
from tests.cast import Cast
from tests.factories import change_key, make_cabinet, make_copy, make_holder


def test_each_opener_says_what_it_does_and_why(api: Api, estate: Estate) -> None:
    rows = api.get(f"doors/{estate.door.pk}/openers/").json()["results"]
    change = next(row for row in rows if row["symbol"] == change_key(estate.system).symbol)
    assert change == {
        "symbol": change_key(estate.system).symbol,
        "system": estate.system.code,
        "effect": "turns",
        "planned": True,
        "route": "the core is keyed to it",
        "copies_held": 0,
        "core": {"id": str(estate.core.pk), "tag": estate.core.tag},
        "housing": str(estate.housing.pk),
    }


def test_the_control_key_takes_the_core_out(api: Api, estate: Estate) -> None:
    rows = api.get(f"doors/{estate.door.pk}/openers/").json()["results"]
    assert {row["effect"] for row in rows if row["symbol"] == "CTR"} == {"withdraws"}


def test_the_answer_is_the_same_as_on_the_page(api: Api, estate: Estate, cast: Cast) -> None:
    shown = [(str(each.symbol), each.is_planned) for each in openers_of(cast.locksmith, estate.door)]
    rows = api.get(f"doors/{estate.door.pk}/openers/").json()["results"]
    assert [(row["symbol"], row["planned"]) for row in rows] == shown
    assert len(shown) >= 4  # change key, its master, the top master, control


def test_copies_are_counted_and_holders_not_named(api: Api, estate: Estate, cast: Cast) -> None:
    holder = make_holder(estate.site, name="Holder Seventeen")
    symbol = change_key(estate.system)
    copy = make_copy(symbol, make_cabinet(estate.site))
    hand_out(actor=cast.desk, copy=copy, holder=holder, signed_as=holder.name)
    response = api.get(f"doors/{estate.door.pk}/openers/")
    counts = {row["symbol"]: row["copies_held"] for row in response.json()["results"]}
    assert counts[symbol.symbol] == 1
    assert b"Seventeen" not in response.content


def test_a_foreign_door_is_not_found(foreign: Api, estate: Estate) -> None:
    problem(foreign.get(f"doors/{estate.door.pk}/openers/"), 404, "not-found")
