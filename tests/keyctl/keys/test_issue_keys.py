"""Several keys, one act, one signature; and what stands in the way of each."""

from datetime import timedelta
from typing import Any

import pytest
from django.core.exceptions import PermissionDenied
from django.http import Http404
from django.utils import timezone

from keyctl.audit.models import Event
from keyctl.keys import reservations, services
from keyctl.keys.models import Custody, DeskSettings, Handover, KeyCopy, Person, PersonKind
from keyctl.keys.services import Signature
from keyctl.lib.errors import Refused
from keyctl.vault import services as vault
from tests import factories
from tests.keyctl.keys.keyroom import KeyRoom

DRAWN = "M10 10L200 40L10 80L90 90L10 120L40 80"


def issue(room: KeyRoom, *copies: KeyCopy, **facts: Any) -> Handover:
    usual: dict[str, Any] = {"actor": room.desk, "holder": room.holder}
    usual["signature"] = Signature("Holder One")
    return services.issue_keys(copies=copies, **usual | facts)


def test_several_keys_go_out_by_one_act_each_on_a_line_of_its_own(room: KeyRoom) -> None:
    copies = [room.in_stock() for _ in range(3)]
    act = issue(room, *copies)
    assert (act.number, act.way, act.holder, act.by, act.signed_as) == (
        1,
        "out",
        room.holder,
        room.desk,
        "Holder One",
    )
    lines = Custody.objects.filter(out_act=act)
    assert {line.copy for line in lines} == set(copies)
    assert all(line.copy.custody == line for line in lines.select_related("copy__custody"))
    assert Event.objects.filter(verb="key.handed_out").count() == 1


def test_acts_of_a_site_are_numbered_without_a_gap(room: KeyRoom) -> None:
    issue(room, room.in_stock())
    with pytest.raises(Refused):
        issue(room, room.in_stock(), signature=Signature(""))
    assert issue(room, room.in_stock()).number == 2


def test_all_or_none_and_every_key_in_the_way_is_named(room: KeyRoom) -> None:
    free, out, lost = room.in_stock(), room.held(), room.lost()
    with pytest.raises(Refused) as refused:
        issue(room, free, out, lost)
    first, second = refused.value.sentences
    assert str(out) in first
    assert str(lost) in second
    assert KeyCopy.objects.get(pk=free.pk).state == "in-cabinet"


def test_a_drawn_signature_is_sealed_and_the_holder_named_beside_it(room: KeyRoom) -> None:
    act = issue(room, room.in_stock(), signature=Signature(path=DRAWN))
    act.refresh_from_db()
    assert (act.sign_way, act.signed_as) == ("drawn", room.holder.name)
    assert act.signature is not None
    assert DRAWN.encode() not in bytes(act.signature)
    assert vault.unseal(act, "signature") == DRAWN


def test_the_terms_in_force_are_kept_with_the_act(room: KeyRoom) -> None:
    administrator = room.cast.administrator
    first = services.publish_terms(actor=administrator, site=room.site, text="Bring it back.")
    act = issue(room, room.in_stock())
    services.publish_terms(actor=administrator, site=room.site, text="Bring it back at once.")
    assert Handover.objects.get(pk=act.pk).terms == first


def test_a_broken_copy_is_never_issued(room: KeyRoom) -> None:
    with pytest.raises(Refused, match=r"is broken\. Destroy it and hand out another copy"):
        issue(room, room.broken())


def test_a_copy_set_aside_for_somebody_else_stays(room: KeyRoom, monkeypatch: pytest.MonkeyPatch) -> None:
    copy, request = room.in_stock(), factories.make_holder(room.site)

    def source(copies: Any, on_request: Any) -> dict[Any, str]:
        return {} if on_request == request else {each.pk: "Set aside. Take another." for each in copies}

    monkeypatch.setattr(reservations, "_sources", [source])
    with pytest.raises(Refused, match="Set aside"):
        issue(room, copy)
    assert issue(room, copy, on_request=request).number == 1


def test_a_contractor_has_it_for_the_hours_of_the_site(room: KeyRoom) -> None:
    DeskSettings.objects.create(site=room.site, contractor_hours=10, student_days=3)
    worker = factories.make_holder(room.site, kind=PersonKind.CONTRACTOR)
    act = issue(room, room.in_stock(), holder=worker)
    assert act.lines_out.get().due_at == pytest.approx(
        timezone.now() + timedelta(hours=10), abs=timedelta(minutes=1)
    )
    assert issue(room, room.in_stock()).lines_out.get().due_at is None


def test_nobody_issues_to_themselves_by_way_of_a_person_either(room: KeyRoom) -> None:
    person = Person.objects.create(display_name="Desk", user=room.desk)
    with pytest.raises(Refused, match="Nobody hands a key to themselves"):
        issue(room, room.in_stock(), holder=factories.make_holder(room.site, person=person))


@pytest.mark.parametrize("person", ["locksmith", "officer", "administrator", "requester", "manager"])
def test_only_the_desk_issues_whatever_page_it_came_from(room: KeyRoom, person: str) -> None:
    with pytest.raises(PermissionDenied):
        issue(room, room.in_stock(), actor=room.cast.everybody[person])


def test_a_stranger_finds_no_such_copy(room: KeyRoom) -> None:
    with pytest.raises(Http404):
        issue(room, room.in_stock(), actor=room.cast.stranger)


def test_no_keys_and_too_many_are_refused(room: KeyRoom) -> None:
    with pytest.raises(Refused, match="No key was chosen"):
        issue(room)
    copies = [room.in_stock() for _ in range(101)]
    with pytest.raises(Refused, match="At most 100 keys"):
        issue(room, *copies)


def test_an_act_is_never_changed(room: KeyRoom) -> None:
    act = issue(room, room.in_stock())
    act.signed_as = "Somebody else"
    with pytest.raises(TypeError):
        act.save()
    with pytest.raises(TypeError):
        Handover.objects.filter(pk=act.pk).update(signed_as="Somebody else")


@pytest.mark.parametrize("through", ["holder", "person"])
def test_nobody_hands_a_key_to_a_holder_with_their_own_address(room: KeyRoom, through: str) -> None:
    room.desk.email = "Desk@example.org"
    room.desk.save(update_fields=["email"])
    person = (
        Person.objects.create(display_name="D.", email="desk@EXAMPLE.org") if through == "person" else None
    )
    email = "" if person else "desk@EXAMPLE.org"
    holder = factories.make_holder(room.site, name="D.", email=email, person=person)
    with pytest.raises(Refused, match="Nobody hands a key to themselves"):
        issue(room, room.in_stock(), holder=holder)
    with pytest.raises(Refused, match="Nobody hands a key to themselves"):
        services.transfer_keys(actor=room.desk, copies=[room.held()], to=holder, signature=Signature("D."))
