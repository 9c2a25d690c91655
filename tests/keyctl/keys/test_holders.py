import pytest
from django.core.exceptions import PermissionDenied
from django.test import Client
from django.urls import reverse

from keyctl.keys import departing, services
from keyctl.keys.models import Holder, Person
from keyctl.lib.errors import Refused
from tests import factories
from tests.keyctl.keys.keyroom import KeyRoom, allowed, answers, sign_in


def test_desk_and_administrator_keep_them(room: KeyRoom) -> None:
    for page in ("change-holder", "deactivate-holder", "reactivate-holder"):
        assert answers(room.cast, f"keys:{page}", room.holder.pk) == allowed("desk", "administrator")


def test_who_leaves_receives_no_keys_and_it_is_told(room: KeyRoom, monkeypatch: pytest.MonkeyPatch) -> None:
    told: list[Holder] = []
    monkeypatch.setattr(departing, "_listeners", [lambda _actor, holder: told.append(holder)])
    services.deactivate_holder(actor=room.desk, holder=room.holder, note="Moved away.")
    assert told == [room.holder]
    with pytest.raises(Refused, match="no longer receives keys"):
        room.held()
    with pytest.raises(Refused, match="already receives no keys"):
        services.deactivate_holder(actor=room.desk, holder=room.holder)
    services.reactivate_holder(actor=room.desk, holder=room.holder)
    assert room.held().state == "held"


def test_what_is_known_of_a_holder_changes_by_the_page(room: KeyRoom, client: Client) -> None:
    facts = {"name": "Holder Two", "email": "two@example.org", "kind": "contractor", "department": "Lifts"}
    sign_in(client, room.desk).post(reverse("keys:change-holder", args=[room.holder.pk]), facts)
    room.holder.refresh_from_db()
    assert {name: getattr(room.holder, name) for name in facts} == facts


def test_two_holders_do_not_share_an_address(room: KeyRoom) -> None:
    factories.make_holder(room.site, email="one@example.org")
    with pytest.raises(Refused, match="is registered with ONE"):
        services.change_holder(actor=room.desk, holder=room.holder, name="X", email="ONE@example.org")


def test_a_person_is_a_holder_once_at_a_site(room: KeyRoom) -> None:
    person = Person.objects.create(display_name="Somebody", user=room.cast.requester)
    holder = services.register_holder(
        actor=room.desk, site=room.site, name="Somebody", kind="student", person=person
    )
    assert (holder.person, holder.user, holder.kind) == (person, room.cast.requester, "student")
    with pytest.raises(Refused, match="is already a holder at North site"):
        services.register_holder(actor=room.desk, site=room.site, name="Somebody", person=person)


def test_only_who_keeps_holders_registers_one(room: KeyRoom) -> None:
    with pytest.raises(PermissionDenied):
        services.register_holder(actor=room.cast.requester, site=room.site, name="Friend")


def test_no_single_desk_takes_back_who_left(room: KeyRoom) -> None:
    person = Person.objects.create(display_name="Somebody", is_active=False)
    holder = factories.make_holder(room.site, person=person, is_active=False)
    with pytest.raises(Refused, match="Somebody has left"):
        services.reactivate_holder(actor=room.desk, holder=holder)
    Holder.objects.filter(pk=holder.pk).delete()
    with pytest.raises(Refused, match="Somebody has left"):
        services.register_holder(actor=room.desk, site=room.site, name="Somebody", person=person)
    assert not Holder.objects.filter(person=person).exists()
