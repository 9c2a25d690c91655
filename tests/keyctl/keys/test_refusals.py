"""What the register of keys refuses, sentence by sentence: each names the place and the remedy."""

from collections.abc import Callable
from typing import Any
from unittest.mock import patch

import pytest
from django.core.exceptions import PermissionDenied
from django.http import Http404
from django.utils import timezone

from keyctl.accounts.models import User
from keyctl.keys import access, reservations, services
from keyctl.keys.law import MOST_NAMED, breaches, broken_law
from keyctl.keys.models import DeskSettings, KeyCopy
from keyctl.keys.services.desk_settings import LONGEST_TERMS
from keyctl.keys.services.stamping import LONGEST_STAMP
from keyctl.lib.errors import Refused
from keyctl.places.models import Site
from tests import factories
from tests.keyctl.keys.keyroom import KeyRoom, bare_key, bare_system

Act = Callable[[KeyRoom], Any]


def report_broken(room: KeyRoom, copy: KeyCopy, note: str = "Bent.") -> KeyCopy:
    return services.report_broken(actor=room.desk, copy=copy, note=note)


def destroy(room: KeyRoom, copy: KeyCopy, reason: str = "Worn.") -> KeyCopy:
    return services.destroy_copy(actor=room.desk, copy=copy, reason=reason)


def find(room: KeyRoom, copy: KeyCopy, cabinet: Any = None) -> KeyCopy:
    return services.take_found(actor=room.desk, copy=copy, cabinet=cabinet or room.cabinet)


def cut(room: KeyRoom, **facts: Any) -> list[KeyCopy]:
    own: dict[str, Any] = {"symbol": room.symbol, "site": room.site, "cabinet": room.cabinet, "count": 1}
    return services.cut_copies(actor=room.desk, **own | facts)


def name_cabinet(room: KeyRoom, name: str) -> Any:
    return services.open_cabinet(actor=room.desk, site=room.site, name=name)


def change(room: KeyRoom, **facts: Any) -> Any:
    return services.change_holder(actor=room.desk, holder=room.holder, **{"name": "Holder One"} | facts)


def publish(room: KeyRoom, text: str) -> Any:
    return services.publish_terms(actor=room.cast.administrator, site=room.site, text=text)


def retired(room: KeyRoom) -> Any:
    symbol = bare_key(room.symbol.system, "AA9")
    symbol.retired_at = timezone.now()
    symbol.save()
    return symbol


def destroy_reserved(room: KeyRoom) -> Any:
    copy = room.in_stock()
    with patch.object(reservations, "_sources", [lambda copies, _on: {copies[0].pk: "It is set aside."}]):
        return destroy(room, copy)


def deactivate(room: KeyRoom) -> Any:
    return services.deactivate_holder(actor=room.desk, holder=room.holder)


def of_the_south(room: KeyRoom) -> Any:
    return factories.make_cabinet(room.cast.south)


def stamped(room: KeyRoom, text: str) -> list[KeyCopy]:
    DeskSettings.objects.update_or_create(site=room.site, defaults={"stamping": DeskSettings.Stamping.FREE})
    return cut(room, stamp=text)


REFUSED: list[tuple[str, Act]] = [
    (r"is lost\. Look at the serial", lambda room: report_broken(room, room.lost())),
    (r"is destroyed\. Look at the serial", lambda room: report_broken(room, room.destroyed())),
    (r"already reported broken", lambda room: report_broken(room, room.broken())),
    (r"Say what is wrong", lambda room: report_broken(room, room.in_stock(), " ")),
    (r"destroyed for a reason", lambda room: destroy(room, room.in_stock(), " ")),
    (r"it is in ", lambda room: find(room, room.in_stock())),
    (r"it is with ", lambda room: find(room, room.held())),
    (r"it was destroyed", lambda room: find(room, room.destroyed())),
    (r"is not a cabinet of", lambda room: find(room, room.lost(), of_the_south(room))),
    (r"Give the cabinet a name", lambda room: name_cabinet(room, "  ")),
    (r"has a cabinet .* already", lambda room: name_cabinet(room, room.cabinet.name.upper())),
    (r"It is set aside", destroy_reserved),
    (r"is retired after a loss", lambda room: cut(room, symbol=retired(room))),
    (r"already receives no keys", lambda room: [deactivate(room), deactivate(room)]),
    (
        r"receives keys already",
        lambda room: services.reactivate_holder(actor=room.desk, holder=room.holder),
    ),
    (r"Cut between 1 and", lambda room: cut(room, count=0)),
    (r"is not a cabinet of", lambda room: cut(room, cabinet=of_the_south(room))),
    (r"longer than", lambda room: stamped(room, "x" * (LONGEST_STAMP + 1))),
    (r"stamped on another key", lambda room: [stamped(room, "Hall key"), stamped(room, "Hall key")]),
    (r"A holder needs a name", lambda room: change(room, name=" ")),
    (
        r"Somebody else at .* is registered",
        lambda room: change(
            room, email=factories.make_holder(room.site, email="two@invented.example").email.upper()
        ),
    ),
    (r"Terms have between 1 and", lambda room: publish(room, " \n ")),
    (r"Terms have between 1 and", lambda room: publish(room, "x" * (LONGEST_TERMS + 1))),
    (r"word for word", lambda room: [publish(room, "Bring it back."), publish(room, "Bring it back. ")]),
]


@pytest.mark.parametrize(("words", "act"), REFUSED, ids=[words for words, _ in REFUSED])
def test_it_is_refused_with_its_remedy(words: str, act: Act, room: KeyRoom) -> None:
    with pytest.raises(Refused, match=words):
        act(room)


def test_keys_of_two_sites_are_no_one_act(room: KeyRoom) -> None:
    far = bare_key(bare_system(room.cast.south, actor=room.cast.stranger), "AA1")
    copies = [room.held(), factories.make_copy(far, of_the_south(room))]
    with pytest.raises(Refused, match=r"several sites \(.*North.*South.*\)"):
        services.return_keys(actor=room.desk, copies=copies, cabinet=room.cabinet)


def test_a_cabinet_that_keeps_its_name_and_one_without_a_keeper(room: KeyRoom) -> None:
    same = services.rename_cabinet(actor=room.desk, cabinet=room.cabinet, name=f" {room.cabinet.name} ")
    assert same.name == room.cabinet.name
    kept = services.open_cabinet(actor=room.desk, site=room.site, name="Wall", custodian=room.cast.desk)
    assert kept.custodian == room.cast.desk
    left = services.change_custodian(actor=room.desk, cabinet=kept, to=None)
    assert left.custodian is None
    with pytest.raises(Refused, match="has no role at"):
        services.change_custodian(actor=room.desk, cabinet=kept, to=room.cast.stranger)


def test_of_one_fault_the_first_copies_are_named_and_the_rest_counted(room: KeyRoom) -> None:
    cut(room, count=MOST_NAMED + 3)
    KeyCopy.objects.filter(symbol=room.symbol).update(state=KeyCopy.State.DESTROYED, cabinet=None)
    line = factories.make_line
    for copy in KeyCopy.objects.filter(symbol=room.symbol):
        line(copy, room.holder, by=room.desk)
    words = [breach.words for breach in breaches(Site.objects.filter(pk=room.site.pk))]
    assert [f"At {room.site}: {each}" for each in words] == list(broken_law())
    assert len([each for each in words if each.startswith("Copy ")]) >= MOST_NAMED
    assert "Copies more with the same fault: 3." in words


@pytest.mark.parametrize("name", ["desk", "auditor"])
def test_whoever_reads_keys_sees_those_of_their_sites(name: str, room: KeyRoom) -> None:
    actor: User = getattr(room.cast, name)
    copy, cabinet = room.in_stock(), of_the_south(room)
    assert copy in access.visible_copies(actor)
    assert room.cabinet in access.visible_cabinets(actor)
    assert cabinet not in access.visible_cabinets(actor)
    with pytest.raises(Http404):
        access.readable_cabinet(actor, cabinet.pk)
    with pytest.raises(PermissionDenied):
        access.refuse_outsiders(room.cast.requester)


def test_cabinets_are_kept_where_one_keeps_them(room: KeyRoom) -> None:
    assert access.cabinet_site(room.desk, room.site.pk) == room.site
    with pytest.raises(PermissionDenied):
        access.cabinet_site(room.cast.auditor, room.site.pk)
    with pytest.raises(Http404):
        access.cabinet_site(room.cast.stranger, room.site.pk)
