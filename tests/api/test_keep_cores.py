"""Cores registered and put right by a program: never their pins, never into a door, never in a case."""

from typing import Any

import pytest

from keyctl.api.models import Scope
from keyctl.audit.models import Event
from keyctl.cores.models import Core
from keyctl.places.models import Site
from keyctl.systems.models import KeySystem
from tests.api.client import Api, make_api, problem
from tests.api.estate import Estate
from tests.cast import Cast
from tests.factories import make_core, make_system, make_user


@pytest.fixture
def system(cast: Cast) -> KeySystem:
    return make_system(cast.north, actor=cast.locksmith, code="KS-N")


@pytest.fixture
def core(cast: Cast, system: KeySystem) -> Core:
    return make_core(actor=cast.locksmith, site=cast.north, system=system, pinned=False)


def keys_of(system: KeySystem) -> list[str]:
    """The symbols of its change keys."""
    return list(system.symbols.filter(kind="change").order_by("symbol").values_list("symbol", flat=True))


def new(site: Site, system: KeySystem, *symbols: str) -> dict[str, Any]:
    return {"site": str(site.pk), "system": system.code, "keyed_to": list(symbols)}


def change(api: Api, core: Core, facts: dict[str, Any]) -> Any:
    path = f"cores/{core.pk}/"
    return api.patch(path, facts, match=api.get(path)["ETag"])


def test_a_core_is_registered_on_the_bench_without_pins(api: Api, cast: Cast, system: KeySystem) -> None:
    first, second, *_ = keys_of(system)
    made = api.post("cores/", new(cast.north, system, second, first))
    assert made.status_code == 201, made.content
    told = made.json()
    assert (told["place"], told["pinned_at"], told["keyed_to"]) == ("bench", None, [first, second])
    assert (told["system"], told["format"]) == ("KS-N", system.format_id)
    event = Event.objects.get(subjects__subject_id=told["id"])
    assert (event.verb, event.actor_name) == ("core.registered", "Invented integration")


def test_many_cores_are_registered_at_once(api: Api, cast: Cast, system: KeySystem) -> None:
    items = [new(cast.north, system, symbol) for symbol in keys_of(system)[:3]]
    items[1]["keyed_to"] = ["NOBODY"]
    told = api.post("cores/bulk/", {"items": items}).json()
    assert [result["status"] for result in told["results"]] == [201, 400, 201]
    assert told["results"][1]["problem"]["errors"][0]["pointer"] == "#/items/1/keyed_to/0"
    assert Core.objects.count() == 2


@pytest.mark.parametrize("place", ["shelf", "gone"])
def test_where_a_core_lies_is_changed(api: Api, core: Core, place: str) -> None:
    assert change(api, core, {"place": place}).json()["place"] == place
    event = Event.objects.get(verb="core.moved")
    assert event.actor_name == "Invented integration"


@pytest.mark.parametrize("place", ["housing", "case"])
def test_no_program_puts_a_core_into_a_door_or_a_case(api: Api, core: Core, place: str) -> None:
    refused = problem(change(api, core, {"place": place}), 400, "invalid")
    assert refused["errors"][0]["pointer"] == "#/place"


def test_a_core_in_a_door_stays_there(api: Api, estate: Estate) -> None:
    refused = problem(change(api, estate.core, {"place": "shelf"}), 422, "refused")
    assert "swap order" in refused["detail"]


def test_what_is_gone_stays_gone(api: Api, core: Core) -> None:
    change(api, core, {"place": "gone"})
    assert "register the core" in problem(change(api, core, {"place": "bench"}), 422, "refused")["detail"]


def test_what_a_new_core_is_keyed_to_is_put_right(api: Api, core: Core, system: KeySystem) -> None:
    wanted = keys_of(system)[1:3]
    before = list(map(str, core.keyed_to.all()))
    assert change(api, core, {"keyed_to": wanted}).json()["keyed_to"] == wanted
    event = Event.objects.get(verb="core.corrected")
    assert event.detail["before"]["keyed_to"] == before
    assert event.detail["after"] == {"system": "KS-N", "keyed_to": wanted}


def test_another_system_comes_with_its_symbols(api: Api, core: Core, system: KeySystem, cast: Cast) -> None:
    other = make_system(cast.north, actor=cast.locksmith, code="KS-O")
    alone = problem(change(api, core, {"system": "KS-O"}), 400, "invalid")
    assert alone["errors"][0]["pointer"] == "#/system"
    told = change(api, core, {"system": "KS-O", "keyed_to": keys_of(other)[:1], "place": "shelf"}).json()
    assert (told["system"], told["keyed_to"], told["place"]) == ("KS-O", keys_of(other)[:1], "shelf")


def test_a_change_that_changes_nothing_tells_nobody(api: Api, core: Core) -> None:
    same = {"place": "bench", "system": "KS-N", "keyed_to": list(map(str, core.keyed_to.all()))}
    assert change(api, core, same).status_code == 200
    assert not Event.objects.filter(verb__in=["core.corrected", "core.moved"]).exists()


def test_a_pinned_core_is_keyed_anew_by_an_order(api: Api, estate: Estate) -> None:
    wanted = {"keyed_to": keys_of(estate.system)[1:2]}
    assert "holds pins" in problem(change(api, estate.spare, wanted), 422, "refused")["detail"]


def test_a_core_that_stands_in_an_order_keeps_its_keys(api: Api, core: Core, cast: Cast) -> None:
    body = {"kind": "pin", "site": str(cast.north.pk), "title": "New", "cores": [str(core.pk)]}
    assert api.post("work-orders/", body).status_code == 201
    system = core.system
    assert system
    refused = problem(change(api, core, {"keyed_to": keys_of(system)[1:2]}), 422, "refused")
    assert "1 order line" in refused["detail"]


@pytest.mark.parametrize(
    ("symbols", "place"),
    [(["NOBODY"], "/0"), (["AA1", "AA1"], "/1"), ([], "")],
)
def test_symbols_that_do_not_fit_are_told_by_their_place(
    api: Api, core: Core, symbols: list[str], place: str
) -> None:
    refused = problem(change(api, core, {"keyed_to": symbols}), 400, "invalid")
    assert [error["pointer"] for error in refused["errors"]] == [f"#/keyed_to{place}"]


def test_no_core_is_keyed_to_a_control_key(api: Api, core: Core, system: KeySystem) -> None:
    control = str(system.symbols.get(kind="control"))
    assert "operating keys" in problem(change(api, core, {"keyed_to": [control]}), 422, "refused")["detail"]


def test_a_system_of_another_site_is_unknown(both: Api, cast: Cast, system: KeySystem, foreign: Api) -> None:
    symbol = keys_of(system)[0]
    refused = problem(foreign.post("cores/", new(cast.south, system, symbol)), 400, "invalid")
    assert refused["errors"][0]["pointer"] == "#/system"
    refused = problem(both.post("cores/", new(cast.south, system, symbol)), 422, "refused")
    assert "not used at" in refused["detail"]


def test_a_foreign_core_is_not_found(foreign: Api, core: Core) -> None:
    problem(foreign.patch(f"cores/{core.pk}/", {"place": "gone"}, match="*"), 404, "not-found")
    assert Core.objects.get(pk=core.pk).place == "bench"


def test_a_core_is_never_removed(api: Api, core: Core) -> None:
    problem(api.delete(f"cores/{core.pk}/", match="*"), 405, "method-not-allowed")


def test_writing_needs_its_scope(cast: Cast, core: Core, system: KeySystem) -> None:
    reader = make_api(cast.administrator, cast.north, scopes=[Scope.ESTATE_READ, Scope.ORDERS_WRITE])
    problem(reader.post("cores/", new(cast.north, system, keys_of(system)[0])), 403, "forbidden")
    problem(reader.patch(f"cores/{core.pk}/", {"place": "gone"}, match="*"), 403, "forbidden")


@pytest.mark.parametrize("fact", ["pinning", "pins", "bitting", "tag", "housing", "carrier", "format"])
def test_there_is_no_such_fact_to_change(api: Api, core: Core, fact: str) -> None:
    refused = problem(change(api, core, {fact: "1234567"}), 400, "invalid")
    assert refused["errors"][0]["pointer"] == f"#/{fact}"


def test_a_disputed_core_waits_for_its_case(api: Api, core: Core) -> None:
    Core.objects.filter(pk=core.pk).update(disputed_at="2030-01-01T00:00Z", disputed_over="case 7")
    assert "disputed" in problem(change(api, core, {"place": "shelf"}), 422, "refused")["detail"]


def test_a_core_comes_back_from_a_case(api: Api, core: Core) -> None:
    Core.objects.filter(pk=core.pk).update(place="case", carrier=make_user("carrier"))
    assert change(api, core, {"place": "bench"}).json()["place"] == "bench"
