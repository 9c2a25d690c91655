"""What the desk has to do with requests: to make ready, ready to collect, not collected."""

from django.test import Client
from django.urls import reverse
from django.utils import timezone

from keyctl.approvals.services.ending import tidy
from keyctl.orders import services as orders
from keyctl.orders.models import WorkOrder
from keyctl.places.models import Membership
from keyctl.places.roles import Role
from tests import factories
from tests.keyctl.approvals.estate import Estate, post
from tests.keyctl.approvals.test_make_ready import approved, ready_since, take
from tests.keyctl.keys.keyroom import count_queries


def listed(client: Client, estate: Estate, show: str) -> str:
    client.force_login(estate.cast.desk)
    return client.get(reverse("approvals:desk"), {"show": show}).content.decode()


def test_who_sees_the_lists(estate: Estate, client: Client) -> None:
    readers = {"locksmith", "desk", "officer", "auditor", "administrator", "stranger"}
    for name, user in estate.cast.everybody.items():
        client.force_login(user)
        status = client.get(reverse("approvals:desk")).status_code
        assert (name, status) == (name, 200 if name in readers else 403)


def test_each_request_stands_in_its_list(estate: Estate, client: Client) -> None:
    stocked, lacking, left = estate.key("AA1"), estate.key("BB1"), estate.key("CC1")
    for key in (stocked, left):
        estate.stock(key)
    late = approved(estate, left)
    ready_since(late, 99)
    tidy(timezone.now())
    ready, waiting = approved(estate, stocked), approved(estate, lacking)
    for show, request in {"ready": ready, "cut": waiting, "lapsed": late}.items():
        text = listed(client, estate, show)
        assert [str(each.pk) in text for each in (ready, waiting, late)] == [
            each == request for each in (ready, waiting, late)
        ]
    assert "being cut, order" in listed(client, estate, "cut")
    take(estate, ready)
    assert str(ready.pk) not in listed(client, estate, "ready")


def test_a_stranger_sees_none_of_it(estate: Estate, client: Client) -> None:
    key = estate.key("AA1")
    estate.stock(key)
    request = approved(estate, key)
    Membership.objects.create(user=estate.cast.stranger, site=estate.cast.south, role=Role.KEY_DESK)
    client.force_login(estate.cast.stranger)
    assert str(request.pk) not in client.get(reverse("approvals:desk")).content.decode()


def test_what_nobody_cuts_can_be_looked_for_again(estate: Estate, client: Client) -> None:
    request = approved(estate, estate.key("AA1"))
    assert "Look in stock again" not in listed(client, estate, "cut")
    orders.cancel_order(actor=estate.cast.locksmith, order=WorkOrder.objects.get())
    text = listed(client, estate, "cut")
    assert "not in stock, and nobody cuts it" in text
    assert "Look in stock again" in text
    response = post(client, estate.cast.desk, "look-again", request.pk)
    assert response.url == reverse("approvals:detail", args=[request.pk])
    assert "being cut, order 2" in listed(client, estate, "cut")


def test_the_desk_hands_over_from_the_list(estate: Estate, client: Client) -> None:
    key = estate.key("AA1")
    estate.stock(key)
    approved(estate, key)
    text = listed(client, estate, "ready")
    assert f'action="{reverse("desk:taker", args=[estate.cast.north.pk])}"' in text
    assert f'name="holder" value="{estate.holder.pk}"' in text


def test_the_queries_do_not_grow_with_the_requests(estate: Estate, client: Client) -> None:
    factories.make_cabinet(estate.cast.north)
    approved(estate, estate.key("AA1"))
    client.force_login(estate.cast.desk)
    few = count_queries(client, reverse("approvals:desk") + "?show=cut")
    for n in range(5):
        approved(estate, estate.key(f"BB{n}"), estate.key(f"CC{n}"))
    assert count_queries(client, reverse("approvals:desk") + "?show=cut") == few
