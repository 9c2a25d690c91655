"""Copies come, go out and come back through a program, by the rules of the desk and narrower ones."""

from typing import Any

import pytest

from keyctl.api.models import Scope
from keyctl.audit.selectors import history_of
from keyctl.keys.models import Handover, KeyCopy
from keyctl.keys.selectors import law_breaches
from keyctl.keys.services import report_broken, report_lost
from keyctl.places.models import Site
from tests.api.client import Api, make_api, problem
from tests.api.estate import NAME, Estate, issue
from tests.cast import Cast
from tests.factories import change_key, make_cabinet, make_copy, make_holder, symbol

Answer = dict[str, Any]


@pytest.fixture
def hung(estate: Estate) -> KeyCopy:
    return make_copy(change_key(estate.system, 1), estate.cabinet)


def give(api: Api, copy: KeyCopy, estate: Estate, **facts: Any) -> Any:
    path = f"key-copies/{copy.pk}/"
    body = {"holder": str(estate.holder.pk), "signed_as": NAME} | facts
    return api.post(path + "hand-out/", body, match=api.get(path)["ETag"])


def take(api: Api, copy: KeyCopy, estate: Estate, **facts: Any) -> Any:
    path = f"key-copies/{copy.pk}/"
    body = {"cabinet": str(estate.cabinet.pk)} | facts
    return api.post(path + "take-back/", body, match=api.get(path)["ETag"])


def new(estate: Estate, name: str = "AB1", **facts: Any) -> Answer:
    key = symbol(estate.system, name)
    return {"key": str(key.pk), "site": str(estate.site.pk), "cabinet": str(estate.cabinet.pk)} | facts


def test_a_copy_goes_out_and_comes_back(api: Api, estate: Estate, hung: KeyCopy) -> None:
    out = give(api, hung, estate)
    assert out.status_code == 200, out.content
    assert (out.json()["state"], out.json()["holder"]["name"]) == ("held", NAME)
    back = take(api, hung, estate, brought_by="A porter", condition="Bent")
    assert (back.json()["state"], back.json()["cabinet"]["id"]) == ("in-cabinet", str(estate.cabinet.pk))
    line = hung.custodies.get()
    assert (line.brought_by, line.condition_back) == ("A porter", "Bent")
    assert {event.actor_name for event in history_of(hung)} == {"Invented integration"}
    assert list(law_breaches(Site.objects.all())) == []


def test_the_holder_signs_by_their_typed_name(api: Api, estate: Estate, hung: KeyCopy) -> None:
    missing = problem(give(api, hung, estate, signed_as=" "), 400, "invalid")
    assert [error["pointer"] for error in missing["errors"]] == ["#/signed_as"]
    give(api, hung, estate)
    act = Handover.objects.latest("number")
    assert (act.signed_as, act.sign_way, act.by.display_name) == (NAME, "typed", "Invented integration")


@pytest.mark.parametrize("name", ["A", "AA", "CTR"])
def test_no_program_hands_out_or_registers_what_opens_much(api: Api, estate: Estate, name: str) -> None:
    copy = make_copy(symbol(estate.system, name), estate.cabinet)
    assert "No program hands out" in problem(give(api, copy, estate), 422, "refused")["detail"]
    assert (
        "No program registers"
        in problem(api.post("key-copies/", new(estate, name)), 422, "refused")["detail"]
    )
    assert KeyCopy.objects.get(pk=copy.pk).state == "in-cabinet"


def test_a_master_comes_back_through_a_program(api: Api, estate: Estate, cast: Cast) -> None:
    """A box that takes keys in must not refuse the one that matters most."""

    copy = issue(symbol(estate.system, "AA"), estate.holder, desk=cast.desk)
    assert take(api, copy, estate).json()["state"] == "in-cabinet"


def test_what_is_out_broken_or_somebodys_no_longer_is_refused(
    api: Api, estate: Estate, hung: KeyCopy, cast: Cast
) -> None:
    assert "already out" in problem(give(api, estate.copy, estate), 422, "refused")["detail"]
    gone = make_holder(cast.north, is_active=False)
    answer = give(api, hung, estate, holder=str(gone.pk))
    assert "no longer receives keys" in problem(answer, 422, "refused")["detail"]
    report_broken(actor=cast.desk, copy=hung, note="Bent")
    assert "broken" in problem(give(api, hung, estate), 422, "refused")["detail"]


def test_a_lost_key_is_taken_in_by_a_person(api: Api, estate: Estate, cast: Cast) -> None:
    report_lost(actor=cast.desk, copy=estate.copy)
    assert "reported lost" in problem(take(api, estate.copy, estate), 422, "refused")["detail"]


def test_refusals_name_nobody_to_who_may_not_read_of_people(cast: Cast, estate: Estate) -> None:
    quiet = make_api(cast.administrator, cast.north, scopes=[Scope.KEYS_READ, Scope.KEYS_WRITE])
    answer = give(quiet, estate.copy, estate)
    assert "holders:read" in problem(answer, 422, "refused")["detail"]
    assert NAME not in answer.content.decode()
    master = make_copy(symbol(estate.system, "A"), estate.cabinet)
    assert "No program hands out" in problem(give(quiet, master, estate), 422, "refused")["detail"]


def test_who_was_first_is_told_by_the_tag(api: Api, estate: Estate, hung: KeyCopy) -> None:
    path = f"key-copies/{hung.pk}/"
    seen = api.get(path)["ETag"]
    give(api, hung, estate)
    body = {"holder": str(estate.holder.pk), "signed_as": NAME}
    stale = problem(api.post(path + "hand-out/", body, match=seen), 412, "changed-meanwhile")
    assert stale["current"]["state"] == "held"
    problem(api.post(path + "hand-out/", body), 428, "tag-missing")


def test_the_same_key_sent_twice_hands_out_once(api: Api, estate: Estate, hung: KeyCopy) -> None:
    path = f"key-copies/{hung.pk}/"
    body, seen = {"holder": str(estate.holder.pk), "signed_as": NAME}, api.get(path)["ETag"]
    first, again = (api.post(path + "hand-out/", body, match=seen, key="once") for _ in range(2))
    assert first.json() == again.json()
    assert hung.custodies.count() == 1


def test_copies_are_registered_alone_and_in_bulk(api: Api, estate: Estate, cast: Cast) -> None:
    made = api.post("key-copies/", new(estate))
    assert (made.status_code, made.json()["state"]) == (201, "in-cabinet")
    assert api.follow(made["Location"]).json() == made.json()
    theirs = make_cabinet(cast.south)
    items = [new(estate), new(estate, "AA"), new(estate, cabinet=str(theirs.pk)), new(estate)]
    answer = api.post("key-copies/bulk/", {"items": items}).json()
    assert [each["status"] for each in answer["results"]] == [201, 422, 400, 201]
    assert answer["results"][2]["problem"]["errors"][0]["pointer"] == "#/items/2/cabinet"
    assert KeyCopy.objects.filter(symbol=symbol(estate.system, "AB1")).count() == 3


def test_foreign_things_are_no_part_of_an_act(api: Api, foreign: Api, estate: Estate, hung: KeyCopy) -> None:
    path = f"key-copies/{hung.pk}/"
    problem(foreign.post(path + "hand-out/", {}, match='"0"'), 404, "not-found")
    theirs = make_holder(make_cabinet(estate.site).site)
    theirs.site_id = foreign_site(foreign)
    theirs.save()
    answer = problem(give(api, hung, estate, holder=str(theirs.pk)), 400, "invalid")
    assert [error["pointer"] for error in answer["errors"]] == ["#/holder"]


def foreign_site(foreign: Api) -> Any:
    return foreign.get("sites/").json()["results"][0]["id"]
