import pytest
from django.core.exceptions import PermissionDenied
from django.test import Client
from django.urls import reverse

from keyctl.keys import services
from keyctl.keys.models import Deposit, DeskSettings, KeyCopy
from keyctl.keys.services import Signature
from keyctl.lib.errors import Conflict, Refused
from tests.keyctl.keys.keyroom import KeyRoom, count_queries, sign_in


def left(room: KeyRoom, *copies: KeyCopy, amount: int = 2050) -> Deposit:
    act = services.issue_keys(
        actor=room.desk,
        holder=room.holder,
        copies=copies or [room.in_stock()],
        signature=Signature("One"),
        deposit=amount,
    )
    return Deposit.objects.get(handover=act)


def test_it_is_bound_to_the_act_in_the_currency_of_the_site(room: KeyRoom) -> None:
    DeskSettings.objects.create(site=room.site, currency="CHF")
    assert str(left(room)) == "20.50 CHF"


@pytest.mark.parametrize("amount", [-1, 10_000_001])
def test_an_amount_that_cannot_be_is_refused_with_the_keys(room: KeyRoom, amount: int) -> None:
    copy = room.in_stock()
    with pytest.raises(Refused, match="A deposit is between"):
        left(room, copy, amount=amount)
    assert KeyCopy.objects.get(pk=copy.pk).state == "in-cabinet"


def test_it_is_given_back_once_every_key_is_back(room: KeyRoom) -> None:
    first, second = room.in_stock(), room.in_stock()
    deposit = left(room, first, second)
    room.take_back(first)
    with pytest.raises(Refused, match=f"Copy {second} of this act is still out"):
        services.give_back_deposit(actor=room.desk, deposit=deposit)
    room.take_back(second)
    given = services.give_back_deposit(actor=room.desk, deposit=deposit)
    assert (given.state, given.settled_by) == ("given-back", room.desk)
    with pytest.raises(Conflict, match="has settled this deposit already"):
        services.keep_deposit(actor=room.desk, deposit=deposit, reason="Bent.")


def test_it_is_kept_for_a_reason(room: KeyRoom) -> None:
    copy = room.in_stock()
    deposit = left(room, copy)
    services.report_lost(actor=room.desk, copy=copy, note="Gone.")
    with pytest.raises(Refused, match="Say why"):
        services.keep_deposit(actor=room.desk, deposit=deposit, reason=" ")
    kept = services.keep_deposit(actor=room.desk, deposit=deposit, reason="The key was lost.")
    assert (kept.state, kept.reason) == ("kept", "The key was lost.")


def test_only_the_desk_settles(room: KeyRoom) -> None:
    with pytest.raises(PermissionDenied):
        services.give_back_deposit(actor=room.cast.officer, deposit=left(room))


def test_what_is_to_be_given_back_stands_first_and_on_the_holders_page(room: KeyRoom, client: Client) -> None:
    back = room.in_stock()
    due, waiting = left(room, back), left(room)
    room.take_back(back)
    sign_in(client, room.desk)
    rows = client.get(reverse("keys:deposits")).context["page"].object_list
    assert [row.pk for row in rows] == [due.pk, waiting.pk]
    assert "To be given back" in client.get(reverse("keys:holder", args=[room.holder.pk])).content.decode()


def test_the_page_gives_it_back(room: KeyRoom, client: Client) -> None:
    copy = room.in_stock()
    deposit = left(room, copy)
    sign_in(client, room.desk)
    address = reverse("keys:give-back-deposit", args=[deposit.pk])
    assert client.post(address).status_code == 422
    room.take_back(copy)
    assert client.post(address).status_code == 302
    assert Deposit.objects.get(pk=deposit.pk).state == "given-back"


def test_the_number_of_queries_does_not_grow_with_the_deposits(room: KeyRoom, client: Client) -> None:
    sign_in(client, room.desk)
    left(room)
    few = count_queries(client, reverse("keys:deposits"))
    for _ in range(5):
        left(room)
    assert count_queries(client, reverse("keys:deposits")) == few
