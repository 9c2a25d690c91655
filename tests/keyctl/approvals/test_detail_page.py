import re

from django.test import Client
from django.urls import reverse

from keyctl.approvals.selectors import effects, proposals_for
from keyctl.orders.models import WorkOrder
from keyctl.places.models import BuildingManager
from tests import factories
from tests.keyctl.approvals.estate import Estate, page, post, statuses
from tests.keyctl.keys.keyroom import count_queries


def plates(text: str) -> list[str]:
    """The proposals as the page shows them."""
    return re.findall(r'<section class="plate" aria-label="(.*?)</section>', text, re.DOTALL)


def test_who_sees_a_request(estate: Estate) -> None:
    request = estate.ask(estate.door(estate.key("AA1")))
    people = dict.fromkeys(estate.cast.everybody, 200) | {"locksmith": 403, "stranger": 404}
    assert statuses(estate.cast, "detail", request.pk) == people


def test_the_manager_sees_both_proposals_with_their_effects(estate: Estate, client: Client) -> None:
    one, two, master = estate.key("AA1"), estate.key("AA2"), estate.key("AA", is_master=True)
    request = estate.ask(estate.door(one, master), estate.door(two, master))
    here, there = estate.door(master), estate.door(master, floor=estate.other_floor)
    few, single = plates(page(client, estate.cast.manager, "detail", request.pk))
    assert "<strong>0 doors</strong>" in few
    assert "Master key" not in few
    assert "<strong>2 doors</strong>" in single
    assert "Master key" in single
    for door in (here, there):
        assert f"{door.building}: 1 extra door" in single
        assert door.number in single


def test_a_key_with_many_extra_doors_is_marked_with_words(estate: Estate, client: Client) -> None:
    key = estate.key("AA1")
    request = estate.ask(estate.door(key))
    for _ in range(10):
        estate.door(key)
    assert "Many extra doors" in page(client, estate.cast.manager, "detail", request.pk)


def test_doors_at_sites_that_the_manager_does_not_see_are_counted_and_not_named(
    estate: Estate, client: Client
) -> None:
    key = estate.key("AA1")
    request = estate.ask(estate.door(key))
    foreign = estate.door(key, floor=factories.make_floor(estate.cast.south))
    text = page(client, estate.cast.manager, "detail", request.pk)
    assert "And 1 door at sites that you do not see." in text
    assert foreign.building.name not in text


def test_the_counts_by_building_add_up(estate: Estate) -> None:
    key = estate.key("AA1")
    request = estate.ask(estate.door(key))
    for floor in (estate.floor, estate.other_floor, estate.other_floor, factories.make_floor()):
        estate.door(key, floor=floor)
    (effect,) = effects(estate.cast.manager, request, proposals_for(request))
    counts = {each.building: each.count for each in effect.buildings}
    assert counts == {estate.building: 1, estate.other_floor.building: 2}
    assert (effect.elsewhere, len(effect.proposal.extra)) == (1, 4)


def test_copies_that_the_holder_already_has_are_shown(estate: Estate, client: Client) -> None:
    grant = estate.hand_out(estate.granted())
    again = estate.ask(*grant.request.doors.all())
    text = page(client, estate.cast.manager, "detail", again.pk)
    assert f'Holder One has copy <span class="code">{grant.copy}</span>' in text


def test_doors_without_a_key_are_named_before_deciding(estate: Estate, client: Client) -> None:
    empty = factories.make_door(floor=estate.floor)
    request = estate.ask(estate.door(estate.key("AA1")), empty)
    text = page(client, estate.cast.manager, "detail", request.pk)
    assert f'<span class="code">{empty.number}</span> (there is no core in it)' in text


def test_a_request_that_no_key_serves_can_only_be_refused(estate: Estate, client: Client) -> None:
    request = estate.ask(factories.make_door(floor=estate.floor))
    text = page(client, estate.cast.manager, "detail", request.pk)
    assert "No key opens these doors" in text
    assert "Approve the chosen keys" not in text
    assert "Refuse" in text


def test_the_requester_sees_steps_and_no_key(estate: Estate, client: Client) -> None:
    request = estate.ask(estate.door(estate.key("QX7")))
    text = page(client, estate.cast.requester, "detail", request.pk)
    assert '<li aria-current="step">Decided by: the building’s people</li>' in text
    assert "QX7" not in text
    estate.approve(request)
    text = page(client, estate.cast.requester, "detail", request.pk)
    assert '<li aria-current="step">Made ready</li>' in text
    assert "QX7" not in text


def test_those_who_watch_see_the_effects_and_cannot_choose(estate: Estate, client: Client) -> None:
    request = estate.ask(estate.door(estate.key("AA1")))
    text = page(client, estate.cast.auditor, "detail", request.pk)
    assert len(plates(text)) == 1
    assert 'name="proposal"' not in text


def test_a_manager_who_asked_is_told_that_another_decides(estate: Estate, client: Client) -> None:
    request = estate.ask(estate.door(estate.key("AA1")), actor=estate.cast.manager)
    text = page(client, estate.cast.manager, "detail", request.pk)
    assert "Another manager of the building decides it." in text
    assert 'name="proposal"' not in text


def test_the_desk_finds_each_key_to_hand_out_with_its_stock(estate: Estate, client: Client) -> None:
    grant = estate.granted()
    estate.stock(grant.symbol)
    text = page(client, estate.cast.desk, "detail", grant.request_id)
    assert f"being cut, order {WorkOrder.objects.get().number}; 1 in stock" in text
    assert f'href="{reverse("approvals:hand-out", args=[grant.pk])}"' in text
    assert "approvals:hand-out" not in page(client, estate.cast.auditor, "detail", grant.request_id)


def test_a_wrong_decision_keeps_the_note(estate: Estate, client: Client) -> None:
    request = estate.ask(estate.door(estate.key("AA1")))
    response = post(client, estate.cast.manager, "approve", request.pk, version=request.version, note="Yes.")
    assert response.status_code == 422
    assert "Choose which keys to give." in response.content.decode()
    assert ">Yes.</textarea>" in response.content.decode()


def test_the_number_of_queries_does_not_grow_with_the_doors(estate: Estate, client: Client) -> None:
    BuildingManager.objects.create(building=estate.building, user=estate.cast.officer)
    master = estate.key("AA", is_master=True)
    small = estate.ask(*(estate.door(estate.key(f"AA{n}"), master) for n in range(2)))
    large = estate.ask(*(estate.door(estate.key(f"AB{n}"), master) for n in range(12)))
    client.force_login(estate.cast.manager)
    few, many = (
        count_queries(client, reverse("approvals:detail", args=[request.pk]) + "?proposals")
        for request in (small, large)
    )
    assert many == few


def test_the_number_of_queries_does_not_grow_with_the_grants(estate: Estate, client: Client) -> None:
    small = estate.approve(estate.ask(estate.door(estate.key("AA1"))))
    large = estate.approve(estate.ask(*(estate.door(estate.key(f"AB{n}")) for n in range(6))))
    client.force_login(estate.cast.desk)
    few, many = (
        count_queries(client, reverse("approvals:detail", args=[request.pk])) for request in (small, large)
    )
    assert many == few
