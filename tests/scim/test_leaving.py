"""An identity provider says that somebody is gone: keys, requests, the sign-in, at every site."""

from concurrent.futures import ThreadPoolExecutor
from threading import Barrier
from typing import Any

import pytest
from django.db import connection
from django.test import Client
from django.urls import reverse

from keyctl.accounts.models import User
from keyctl.audit.models import Event
from keyctl.directory.models import EndedSignIn
from keyctl.keys.models import Holder, Person
from keyctl.leavers.models import LeaverCase
from keyctl.places.models import Membership
from keyctl.places.roles import Role
from tests import factories
from tests.keyctl.keys.keyroom import KeyRoom
from tests.scim.provider import Provider

GONE = {"op": "replace", "path": "active", "value": False}


def known(provider: Provider, room: KeyRoom, **facts: Any) -> str:
    """The room's holder comes from the provider; they are one by their e-mail."""
    Holder.objects.filter(pk=room.holder.pk).update(email="ada@example.org")
    emails = [{"value": "Ada@example.org", "type": "work", "primary": True}]
    return str(provider.create("ada", displayName="Ada Example", emails=emails, **facts)["id"])


def test_who_is_known_at_the_desk_by_the_same_address_is_the_same_person(
    provider: Provider, room: KeyRoom
) -> None:
    pk = known(provider, room)
    room.holder.refresh_from_db()
    assert str(room.holder.person_id) == pk


@pytest.mark.parametrize(
    "operation",
    [
        GONE,
        {"op": "Replace", "path": "active", "value": "False"},
        {"op": "replace", "value": {"active": False}},
        {"op": "replace", "value": {"active": "false"}},
        {"op": "add", "path": "active", "value": False},
        {"op": "replace", "path": f"{'urn:ietf:params:scim:schemas:core:2.0:User'}:active", "value": False},
    ],
)
def test_in_every_form_that_providers_send_it_opens_a_case(
    provider: Provider, room: KeyRoom, operation: dict[str, Any]
) -> None:
    pk = known(provider, room)
    room.held()
    patched = provider.patch(pk, operation)
    assert (patched.status_code, patched.json()["active"]) == (200, False)
    case = LeaverCase.objects.get()
    assert (case.holder, case.why, case.state) == (room.holder, "scim", "open")
    assert not Person.objects.get(pk=pk).is_active
    room.holder.refresh_from_db()
    assert not room.holder.is_active
    assert room.holder.copies.count() == 1


def test_a_replaced_user_who_is_not_active_is_gone(provider: Provider, room: KeyRoom) -> None:
    pk = known(provider, room)
    room.held()
    provider.send("PUT", f"Users/{pk}", {"userName": "ada", "active": False})
    assert LeaverCase.objects.get().why == "scim"


def test_a_replaced_user_without_a_word_about_it_stays(provider: Provider, room: KeyRoom) -> None:
    pk = known(provider, room)
    assert provider.send("PUT", f"Users/{pk}", {"userName": "ada"}).json()["active"] is True
    provider.patch(pk, GONE)
    assert provider.send("PUT", f"Users/{pk}", {"userName": "ada"}).json()["active"] is False


def test_a_case_at_each_site_where_keys_are_out_and_at_no_other(provider: Provider, room: KeyRoom) -> None:
    pk = known(provider, room)
    south = factories.make_holder(room.cast.south, person=Person.objects.get(pk=pk))
    room.held()
    provider.patch(pk, GONE)
    assert [case.holder for case in LeaverCase.objects.all()] == [room.holder]
    south.refresh_from_db()
    assert not south.is_active


def test_sites_that_were_opened_after_the_token_count_too(provider: Provider, room: KeyRoom) -> None:
    pk = known(provider, room)
    later = factories.make_holder(factories.make_site(), person=Person.objects.get(pk=pk))
    assert provider.patch(pk, GONE).status_code == 200
    later.refresh_from_db()
    assert not later.is_active


def test_told_twice_nothing_happens_twice(provider: Provider, room: KeyRoom) -> None:
    pk = known(provider, room)
    room.held()
    provider.patch(pk, GONE)
    events = Event.objects.count()
    assert provider.patch(pk, GONE).status_code == 200
    assert Event.objects.count() == events


def test_the_sign_in_ends_with_its_sessions(provider: Provider, room: KeyRoom) -> None:
    user, browser, other = room.cast.requester, Client(), Client()
    pk = provider.create(user.username, displayName="Requester")["id"]
    for client, person in ((browser, user), (other, room.desk)):
        client.force_login(person)
    provider.patch(pk, GONE)
    assert browser.get(reverse("accounts:me")).status_code == 302
    assert other.get(reverse("accounts:me")).status_code == 200
    user.refresh_from_db()
    assert not user.is_active
    assert EndedSignIn.objects.get().user == user


def test_who_comes_back_signs_in_again_but_by_no_old_session(provider: Provider, room: KeyRoom) -> None:
    user, browser = room.cast.requester, Client()
    pk = provider.create(user.username)["id"]
    browser.force_login(user)
    provider.patch(pk, GONE)
    provider.patch(pk, {"op": "replace", "path": "active", "value": "True"})
    user.refresh_from_db()
    assert user.is_active
    assert browser.get(reverse("accounts:me")).status_code == 302


def test_a_sign_in_that_was_closed_before_is_not_opened_by_coming_back(
    provider: Provider, room: KeyRoom
) -> None:
    user = room.cast.requester
    pk = provider.create(user.username)["id"]
    User.objects.filter(pk=user.pk).update(is_active=False)
    provider.patch(pk, GONE)
    provider.patch(pk, {"op": "replace", "path": "active", "value": True})
    user.refresh_from_db()
    assert not user.is_active


def test_the_only_administrator_of_a_site_can_still_get_in(provider: Provider, room: KeyRoom) -> None:
    administrator = room.cast.administrator
    pk = provider.create(administrator.username)["id"]
    assert provider.patch(pk, GONE).json()["active"] is False
    administrator.refresh_from_db()
    assert administrator.is_active
    second = factories.make_user()
    for site in (room.cast.north, room.cast.south):
        Membership.objects.create(user=second, site=site, role=Role.ADMINISTRATOR)
    provider.patch(pk, {"op": "replace", "path": "active", "value": True})
    provider.patch(pk, GONE)
    administrator.refresh_from_db()
    assert not administrator.is_active


def test_the_account_of_a_token_is_nobodys_sign_in(provider: Provider, room: KeyRoom) -> None:
    name = User.objects.get(username__startswith="token-").username
    pk = provider.create(name)["id"]
    assert provider.patch(pk, GONE).status_code == 200
    assert provider.get("Users").status_code == 200


def test_coming_back_ends_the_case_and_leaves_the_keys(provider: Provider, room: KeyRoom) -> None:
    pk = known(provider, room)
    copy = room.held()
    provider.patch(pk, GONE)
    provider.patch(pk, {"op": "replace", "path": "active", "value": True})
    case = LeaverCase.objects.get()
    copy.refresh_from_db()
    assert (case.state, case.outcome, copy.holder) == ("closed", "stays", room.holder)
    room.holder.refresh_from_db()
    assert room.holder.is_active


def test_deleting_is_leaving_and_forgets_nobody(provider: Provider, room: KeyRoom) -> None:
    pk = known(provider, room)
    room.held()
    assert provider.send("DELETE", f"Users/{pk}").status_code == 204
    assert LeaverCase.objects.get().is_open
    assert Person.objects.filter(pk=pk, is_active=False).exists()


def test_who_was_deleted_and_is_made_again_is_the_same_person(provider: Provider, room: KeyRoom) -> None:
    pk = known(provider, room)
    provider.send("DELETE", f"Users/{pk}")
    again = provider.create("ADA", displayName="Ada Second")
    assert (again["id"], again["active"], again["displayName"]) == (pk, True, "Ada Second")


def test_the_desk_sees_a_new_name_at_once(provider: Provider, room: KeyRoom) -> None:
    pk = known(provider, room)
    provider.patch(pk, {"op": "replace", "path": "displayName", "value": "Ada Married"})
    room.holder.refresh_from_db()
    assert room.holder.name == "Ada Married"


@pytest.mark.django_db(transaction=True)
def test_told_twice_at_once_one_case_comes(provider: Provider, room: KeyRoom) -> None:
    pk = known(provider, room)
    room.held()
    start = Barrier(2)

    def tell(_: int) -> int:
        try:
            start.wait()
            return int(Provider(provider.bearer).patch(pk, GONE).status_code)
        finally:
            connection.close()

    with ThreadPoolExecutor(2) as pool:
        assert list(pool.map(tell, range(2))) == [200, 200]
    assert LeaverCase.objects.count() == 1
    assert Event.objects.filter(verb="person.left").count() == 1
