"""Requests for keys: read, asked and taken back; no program decides one."""

from typing import Any

from django.utils import timezone

from keyctl.accounts.models import User
from keyctl.api.models import Scope
from keyctl.approvals.models import Grant, KeyRequest
from tests.api.client import Api, make_api, problem
from tests.api.estate import NAME, Estate
from tests.api.walk import addresses, description
from tests.cast import Cast
from tests.factories import make_door, make_holder


def ask(estate: Estate, **facts: Any) -> dict[str, Any]:
    about = {"doors": [str(estate.door.pk)], "holder": str(estate.holder.pk), "reason": "Night work"}
    return about | facts


def test_a_request_is_read_with_its_steps(api: Api, estate: Estate) -> None:
    request = api.get(f"requests/{estate.request.pk}/").json()
    assert request["holder"] == {"id": str(estate.holder.pk), "name": NAME}
    assert request["doors"] == [{"id": str(estate.door.pk), "number": "E-1.04"}]
    assert (request["state"], request["grants"]) == ("asked", [])
    assert [step["state"] for step in request["steps"]] == ["waiting"]


def test_what_was_approved_is_read(api: Api, estate: Estate, cast: Cast) -> None:
    Grant.objects.create(request=estate.request, symbol=estate.key, is_master=False, approved_by=cast.manager)
    request = api.get(f"requests/{estate.request.pk}/").json()
    assert [grant["key"]["symbol"] for grant in request["grants"]] == [estate.key.symbol]
    assert api.ids("requests/", key=estate.key.pk) == [str(estate.request.pk)]


def test_requests_are_found(api: Api, estate: Estate, cast: Cast) -> None:
    mine = [str(estate.request.pk)]
    own = api.post("requests/", ask(estate)).json()["id"]
    assert api.ids("requests/", is_own=False, door=estate.door.pk, holder=estate.holder.pk) == mine
    assert api.ids("requests/", is_own=True, building=estate.door.building.pk) == [own]
    assert api.ids("requests/", state="refused") == []
    assert api.ids("requests/", asked_since=timezone.now().isoformat()) == []
    assert api.ids("requests/", door=make_door(cast.north).pk) == []


def test_a_program_asks_for_somebody_and_takes_it_back(api: Api, estate: Estate, cast: Cast) -> None:
    asked = api.post("requests/", ask(estate, needed_until="2100-01-31"))
    assert asked.status_code == 201, asked.content
    request = KeyRequest.objects.get(pk=asked.json()["id"])
    assert (request.requester.display_name, request.holder) == ("Invented integration", estate.holder)
    path = f"requests/{request.pk}/withdraw/"
    back = api.post(path, {}, match=asked["ETag"])
    assert back.json()["state"] == "withdrawn"
    problem(api.post(path, {}, match=back["ETag"]), 422, "refused")


def test_what_somebody_else_asked_stays(api: Api, cast: Cast, estate: Estate) -> None:
    """And who may not read of people is not told who that was."""
    path = f"requests/{estate.request.pk}/"
    open_words = problem(api.post(path + "withdraw/", {}, match=api.get(path)["ETag"]), 422, "refused")
    assert "Locksmith asked for this key" in open_words["detail"]
    scopes = [Scope.REQUESTS_READ, Scope.REQUESTS_WRITE]
    quiet = make_api(cast.administrator, cast.north, scopes=scopes)
    answer = quiet.post(path + "withdraw/", {}, match=quiet.get(path)["ETag"])
    assert "holders:read" in problem(answer, 422, "refused")["detail"]
    assert "Locksmith asked" not in answer.content.decode()
    assert KeyRequest.objects.get(pk=estate.request.pk).state == "asked"


def test_the_rules_of_asking_hold(api: Api, estate: Estate, cast: Cast) -> None:
    gone = make_holder(cast.north, is_active=False)
    answer = problem(api.post("requests/", ask(estate, holder=str(gone.pk))), 422, "refused")
    assert "no longer receives keys" in answer["detail"]
    far = make_door(cast.north)
    two = problem(
        api.post("requests/", ask(estate, doors=[str(estate.door.pk), str(far.pk)])), 422, "refused"
    )
    assert "one building" in two["detail"]


def test_foreign_doors_and_holders_are_told_by_their_place(api: Api, estate: Estate, cast: Cast) -> None:
    door, holder = make_door(cast.south), make_holder(cast.south)
    for name, facts in (("doors/0", {"doors": [str(door.pk)]}), ("holder", {"holder": str(holder.pk)})):
        answer = problem(api.post("requests/", ask(estate, **facts)), 400, "invalid")
        assert [error["pointer"] for error in answer["errors"]] == [f"#/{name}"]


def test_no_operation_decides_a_request() -> None:
    acts = {path.split("/")[-2] for path in description()["paths"] if "/requests/{id}/" in path}
    assert acts == {"{id}", "withdraw"}


def test_a_foreign_request_is_not_found(foreign: Api, estate: Estate) -> None:
    problem(foreign.get(f"requests/{estate.request.pk}/"), 404, "not-found")
    problem(foreign.post(f"requests/{estate.request.pk}/withdraw/", {}, match='"0"'), 404, "not-found")


def test_without_the_scope_for_holders_no_answer_names_a_person(cast: Cast, estate: Estate) -> None:
    """Every address there is, and every person there is: holders, askers, whoever signs in."""
    for user in User.objects.all():
        user.display_name = f"Xaveria {user.username}"
        user.save()
    reads = [scope for scope in Scope if scope.value.endswith(":read") and scope != Scope.HOLDERS_READ]
    api = make_api(cast.administrator, cast.north, scopes=[s for s in reads if "pinning" not in s])
    named = [NAME, "rosa.quill", "Xaveria", "Quillfeather"]
    walked = [path for path in addresses(estate) if not path.startswith("holders/")]
    for path in walked:
        answer = api.get(path)
        assert answer.status_code == 200, path
        assert not [name for name in named if name in answer.content.decode()], path
    assert len(walked) > 20
    open_api = make_api(cast.administrator, cast.north)
    assert all(name in open_api.get("requests/").content.decode() for name in (NAME, "Xaveria"))
