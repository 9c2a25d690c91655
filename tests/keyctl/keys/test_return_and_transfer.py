import pytest
from django.core.exceptions import PermissionDenied
from django.test import Client
from django.urls import reverse

from keyctl.audit.selectors import history_of
from keyctl.keys import services
from keyctl.keys.models import Custody, KeyCopy
from keyctl.keys.services import Signature
from keyctl.lib.errors import Refused
from tests import factories
from tests.keyctl.keys.keyroom import KeyRoom, sign_in

SIGNED = Signature("Taker Two")


def test_keys_of_several_holders_come_back_in_one_act(room: KeyRoom) -> None:
    other = factories.make_holder(room.site)
    first, second = room.held(), room.give(room.in_stock(), other)
    act = services.return_keys(
        actor=room.desk,
        copies=[first, second],
        cabinet=room.cabinet,
        brought_by="The porter",
        conditions={first.pk: "Bent at the tip"},
    )
    assert (act.way, act.holder, act.sign_way) == ("back", None, "none")
    lines = {line.copy_id: line for line in Custody.objects.filter(back_act=act)}
    assert {line.ending for line in lines.values()} == {"returned"}
    assert {line.brought_by for line in lines.values()} == {"The porter"}
    assert lines[first.pk].condition_back == "Bent at the tip"
    assert lines[second.pk].condition_back == ""
    for holder in (room.holder, other):
        assert history_of(holder)[0].verb == "key.taken_back"


def test_a_lost_copy_among_those_brought_is_taken_in_as_found(room: KeyRoom) -> None:
    held = room.held()
    with pytest.raises(Refused, match="Take it in as found"):
        services.return_keys(actor=room.desk, copies=[held, room.lost()], cabinet=room.cabinet)
    assert KeyCopy.objects.get(pk=held.pk).state == "held"


def test_both_stand_in_the_register_of_a_transfer(room: KeyRoom) -> None:
    copy, taker = room.held(), factories.make_holder(room.site)
    act = services.transfer_keys(actor=room.desk, copies=[copy], to=taker, signature=SIGNED)
    old, new = Custody.objects.filter(copy=copy).order_by("out_at")
    assert (old.holder, old.ending, old.back_act) == (room.holder, "transferred", act)
    assert (new.holder, new.ended_at, new.out_act) == (taker, None, act)
    copy.refresh_from_db()
    assert (copy.holder, copy.custody, copy.state) == (taker, new, "held")
    for holder in (room.holder, taker):
        sentence = history_of(holder)[0].sentence
        assert sentence == f"transferred copy {copy} of AA1 from {room.holder} to {taker}"


@pytest.mark.parametrize("person", ["locksmith", "officer", "manager", "administrator", "requester"])
def test_only_the_desk_transfers(room: KeyRoom, person: str) -> None:
    with pytest.raises(PermissionDenied):
        services.transfer_keys(
            actor=room.cast.everybody[person], copies=[room.held()], to=room.holder, signature=SIGNED
        )


def test_what_is_not_out_is_not_transferred(room: KeyRoom) -> None:
    taker = factories.make_holder(room.site)
    for copy, words in (
        (room.in_stock(), "Hand it out instead"),
        (room.lost(), "is reported lost"),
        (room.destroyed(), "was destroyed"),
        (room.give(room.in_stock(), taker), "is with .* already"),
    ):
        with pytest.raises(Refused, match=words):
            services.transfer_keys(actor=room.desk, copies=[copy], to=taker, signature=SIGNED)


def test_a_clerk_transfers_nothing_to_themselves(room: KeyRoom) -> None:
    own = factories.make_holder(room.site, user=room.desk)
    with pytest.raises(Refused, match="Nobody hands a key to themselves"):
        services.transfer_keys(actor=room.desk, copies=[room.held()], to=own, signature=SIGNED)


def test_the_page_transfers(room: KeyRoom, client: Client) -> None:
    copy, taker = room.held(), factories.make_holder(room.site, name="Taker Two")
    facts = {"to": "Taker Two", "signed_as": "Taker Two", "version": copy.version}
    answer = sign_in(client, room.desk).post(reverse("keys:transfer", args=[copy.pk]), facts)
    assert answer.status_code == 302
    assert KeyCopy.objects.get(pk=copy.pk).holder == taker


def test_the_page_keeps_who_brought_it_and_what_it_was_like(room: KeyRoom, client: Client) -> None:
    copy = room.held()
    facts = {"cabinet": room.cabinet.pk, "version": copy.version, "brought_by": "Porter", "condition": "Bent"}
    sign_in(client, room.desk).post(reverse("keys:take-back", args=[copy.pk]), facts)
    line = Custody.objects.get(copy=copy)
    assert (line.brought_by, line.condition_back) == ("Porter", "Bent")


def test_the_page_takes_a_found_copy_in(room: KeyRoom, client: Client) -> None:
    copy = room.lost()
    facts = {"cabinet": room.cabinet.pk, "version": copy.version, "note": "Under a chair, by the cleaner."}
    sign_in(client, room.desk).post(reverse("keys:found", args=[copy.pk]), facts)
    event = history_of(copy)[0]
    assert (event.verb, event.detail) == ("key.found", {"note": "Under a chair, by the cleaner."})
