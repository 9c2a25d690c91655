"""Holders: read by their scope alone, kept by programs that know who comes and goes."""

from typing import Any

import pytest

from keyctl.api.models import Scope
from keyctl.audit.selectors import history_of
from keyctl.keys.models import Holder
from tests.api.client import Api, make_api, problem
from tests.api.estate import NAME, Estate
from tests.cast import Cast
from tests.factories import make_holder


def test_a_holder_is_told_whole(api: Api, estate: Estate) -> None:
    assert api.get(f"holders/{estate.holder.pk}/").json() == {
        "id": str(estate.holder.pk),
        "site": {"id": str(estate.site.pk), "code": "NORTH"},
        "name": NAME,
        "email": "rosa.quill@example.org",
        "department": "",
        "kind": "staff",
        "is_active": True,
        "user_name": "",
        "external_id": "",
        "copies_out": 1,
    }


def test_holders_are_found_by_what_is_known_of_them(api: Api, estate: Estate, cast: Cast) -> None:
    other = make_holder(cast.north, name="Other", kind="contractor", department="Paint", is_active=False)
    mine, theirs = [str(estate.holder.pk)], [str(other.pk)]
    assert api.ids("holders/", q="quill") == mine
    assert api.ids("holders/", email="ROSA.QUILL@example.org") == mine
    assert api.ids("holders/", is_active=False) == theirs
    assert api.ids("holders/", kind="contractor", department="Paint") == theirs
    assert api.ids("holders/", site=cast.south.pk) == []


def new(estate: Estate, **facts: Any) -> dict[str, Any]:
    return {"site": str(estate.site.pk), "name": "Ann Bell", "email": "ann@example.org"} | facts


def test_a_holder_is_registered_and_history_names_the_program(api: Api, estate: Estate) -> None:
    answer = api.post("holders/", new(estate, kind="student"))
    assert answer.status_code == 201, answer.content
    made = Holder.objects.get(name="Ann Bell")
    assert api.follow(answer["Location"]).json() == answer.json()
    assert (made.kind, made.email) == ("student", "ann@example.org")
    assert [event.actor_name for event in history_of(made)] == ["Invented integration"]


def test_an_address_is_registered_once(api: Api, estate: Estate) -> None:
    api.post("holders/", new(estate))
    assert "already registered" in problem(api.post("holders/", new(estate)), 422, "refused")["detail"]


def test_only_what_is_sent_is_changed(api: Api, estate: Estate) -> None:
    path = f"holders/{estate.holder.pk}/"
    before = api.get(path)
    answer = api.patch(path, {"department": "Stores"}, match=before["ETag"])
    assert answer.json() == before.json() | {"department": "Stores"}
    problem(api.patch(path, {"department": "Roof"}, match=before["ETag"]), 412, "changed-meanwhile")
    assert Holder.objects.get(pk=estate.holder.pk).department == "Stores"


def test_who_goes_receives_no_more_keys_and_loses_what_they_asked_for(api: Api, estate: Estate) -> None:
    path = f"holders/{estate.holder.pk}/"
    gone = api.post(path + "deactivate/", {"note": "Left on Friday"}, match=api.get(path)["ETag"])
    assert gone.json()["is_active"] is False
    assert api.get(f"requests/{estate.request.pk}/").json()["state"] == "withdrawn"
    back = api.post(path + "reactivate/", {}, match=gone["ETag"])
    assert back.json()["is_active"] is True


def test_many_are_registered_at_once_and_each_is_answered(api: Api, estate: Estate, cast: Cast) -> None:
    items = [new(estate), new(estate, name="Double"), new(estate, site=str(cast.south.pk)), {"name": "Bob"}]
    answer = api.post("holders/bulk/", {"items": items}).json()
    assert (answer["done"], answer["refused"]) == (1, 3)
    assert [each["status"] for each in answer["results"]] == [201, 422, 400, 400]
    assert list(Holder.objects.filter(name__in=["Ann Bell", "Double", "Bob"])) == [
        Holder.objects.get(name="Ann Bell")
    ]


def test_who_may_write_and_not_read_is_told_no_person(cast: Cast, estate: Estate) -> None:
    writer = make_api(cast.administrator, cast.north, scopes=[Scope.HOLDERS_WRITE])
    answer = writer.post("holders/", new(estate))
    assert (answer.status_code, answer.json()["name"], answer.json()["email"]) == (201, None, None)
    stale = writer.patch(f"holders/{estate.holder.pk}/", {"department": "x"}, match='"0"')
    assert NAME.encode() not in stale.content
    assert problem(stale, 412, "changed-meanwhile")["current"]["name"] is None


@pytest.mark.parametrize("path", ["", "doors/"])
def test_a_foreign_holder_is_not_found(foreign: Api, estate: Estate, path: str) -> None:
    problem(foreign.get(f"holders/{estate.holder.pk}/{path}"), 404, "not-found")
