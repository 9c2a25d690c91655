from datetime import date, timedelta

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from keyctl.accounts.speaking import speaking
from keyctl.approvals import services
from keyctl.approvals.models import KeyRequest
from keyctl.audit.selectors import history_of
from keyctl.lib.errors import Refused
from tests import factories
from tests.keyctl.approvals.estate import Estate, page, post


def test_it_waits_for_a_decision_with_its_doors(estate: Estate) -> None:
    doors = [factories.make_door(floor=estate.floor) for _ in range(2)]
    request = estate.ask(*doors)
    assert (request.state, request.building) == ("asked", estate.building)
    assert set(request.doors.all()) == set(doors)


def test_request_holder_and_doors_remember_it(estate: Estate) -> None:
    door = factories.make_door(floor=estate.floor)
    request = estate.ask(door)
    for thing in (request, estate.holder, door):
        event = history_of(thing)[0]
        assert (event.verb, event.actor) == ("request.asked", estate.cast.requester)
        assert event.sentence == f"asked for a key to {door.number} in {estate.building}, for Holder One"


def test_without_a_holder_the_key_is_for_oneself(estate: Estate) -> None:
    request = services.ask_for_key(
        actor=estate.cast.requester, doors=[factories.make_door(floor=estate.floor)], reason="My room."
    )
    assert request.holder.user == request.holder_user == estate.cast.requester


def test_doors_of_two_buildings_are_two_requests(estate: Estate) -> None:
    doors = [factories.make_door(floor=estate.floor), factories.make_door(floor=estate.other_floor)]
    with pytest.raises(Refused, match="Make a request for each building"):
        estate.ask(*doors)


def test_doors_of_a_site_without_a_role_are_not_there(estate: Estate) -> None:
    with pytest.raises(Refused, match="A door that you chose is not there"):
        estate.ask(factories.make_door(estate.cast.south))


def test_no_door_is_no_request(estate: Estate) -> None:
    with pytest.raises(Refused, match="Choose at least one door"):
        estate.ask()


def test_a_holder_of_another_site_is_refused(estate: Estate) -> None:
    foreign = factories.make_holder(estate.cast.south)
    with pytest.raises(Refused, match="is not a holder at North site"):
        estate.ask(factories.make_door(floor=estate.floor), holder=foreign)


def test_a_holder_who_no_longer_receives_keys_is_refused(estate: Estate) -> None:
    gone = factories.make_holder(estate.cast.north, is_active=False)
    with pytest.raises(Refused, match="no longer receives keys"):
        estate.ask(factories.make_door(floor=estate.floor), holder=gone)


def test_a_reason_is_needed(estate: Estate) -> None:
    with pytest.raises(Refused, match="Say what the key is needed for"):
        estate.ask(factories.make_door(floor=estate.floor), reason=" ")


def test_the_last_day_is_not_past(estate: Estate) -> None:
    with pytest.raises(Refused, match="is past"):
        estate.ask(
            factories.make_door(floor=estate.floor), needed_until=timezone.localdate() - timedelta(days=1)
        )


@pytest.mark.parametrize(("dates", "said"), [("iso", "2001-03-05 ist"), ("month", "Mär 5, 2001 ist")])
def test_a_refusal_says_the_day_as_the_person_reads_days(estate: Estate, dates: str, said: str) -> None:
    with speaking("de", dates), pytest.raises(Refused, match=said):
        estate.ask(factories.make_door(floor=estate.floor), needed_until=date(2001, 3, 5))


def test_the_period_ends_after_it_begins(estate: Estate) -> None:
    today = timezone.localdate()
    door = factories.make_door(floor=estate.floor)
    with pytest.raises(Refused, match="due back before it is needed"):
        estate.ask(door, starts_on=today + timedelta(days=2), needed_until=today + timedelta(days=1))
    request = estate.ask(door, starts_on=today, needed_until=today)
    assert (request.starts_on, request.needed_until) == (today, today)


def test_the_buildings_offered_are_those_of_ones_own_sites(estate: Estate, client: Client) -> None:
    foreign = factories.make_floor(estate.cast.south).building
    offered = page(client, estate.cast.requester, "ask")
    assert estate.building.name in offered
    assert foreign.name not in offered


def test_a_building_of_another_site_is_not_found(estate: Estate, client: Client) -> None:
    client.force_login(estate.cast.stranger)
    assert client.get(reverse("approvals:ask-building", args=[estate.building.pk])).status_code == 404


def test_everybody_of_the_site_may_ask(estate: Estate, client: Client) -> None:
    for name, user in estate.cast.everybody.items():
        client.force_login(user)
        status = client.get(reverse("approvals:ask-building", args=[estate.building.pk])).status_code
        assert (name, status) == (name, 404 if name == "stranger" else 200)


def test_the_page_asks(estate: Estate, client: Client) -> None:
    door = factories.make_door(floor=estate.floor)
    facts = {"doors": [door.pk], "for_whom": "other", "holder": "holder one", "reason": "Cleaning."}
    response = post(client, estate.cast.requester, "ask-building", estate.building.pk, **facts)
    request = KeyRequest.objects.get()
    assert response.url == reverse("approvals:detail", args=[request.pk])
    assert request.holder == estate.holder


def test_a_part_of_a_name_does_not_tell_a_requester_who_holds_keys(estate: Estate, client: Client) -> None:
    door = factories.make_door(floor=estate.floor)
    facts = {"doors": [door.pk], "for_whom": "other", "holder": "holder", "reason": "Cleaning."}
    response = post(client, estate.cast.requester, "ask-building", estate.building.pk, **facts)
    assert response.status_code == 422
    assert "Nobody at North site is called “holder”" in response.content.decode()
    assert "Holder One" not in response.content.decode()


def test_looking_for_doors_keeps_the_chosen_ones_and_complains_about_nothing(
    estate: Estate, client: Client
) -> None:
    chosen, found, other = (factories.make_door(floor=estate.floor, number=n) for n in ("X-1", "Y-2", "Z-3"))
    facts = {"find": "1", "q": "y-", "doors": [chosen.pk], "reason": ""}
    response = post(client, estate.cast.requester, "ask-building", estate.building.pk, **facts)
    text = response.content.decode()
    assert response.status_code == 200
    assert f'value="{chosen.pk}" checked' in text
    assert f'value="{found.pk}">' in text
    assert str(other.pk) not in text
    assert KeyRequest.objects.count() == 0


def test_the_door_search_answers_with_the_doors_alone(estate: Estate, client: Client) -> None:
    door = factories.make_door(floor=estate.floor)
    client.force_login(estate.cast.requester)
    response = client.post(
        reverse("approvals:ask-building", args=[estate.building.pk]),
        {"find": "1", "q": door.number},
        headers={"HX-Request": "true"},
    )
    assert str(door.pk) in response.content.decode()
    assert "<form" not in response.content.decode()


def test_a_door_of_another_building_cannot_be_slipped_in(estate: Estate, client: Client) -> None:
    door = factories.make_door(floor=estate.other_floor)
    facts = {"doors": [door.pk], "for_whom": "myself", "reason": "Cleaning."}
    response = post(client, estate.cast.requester, "ask-building", estate.building.pk, **facts)
    assert response.status_code == 422
    assert KeyRequest.objects.count() == 0


def test_an_asker_reads_no_addresses_of_people_of_one_name(estate: Estate, client: Client) -> None:
    for nth in (1, 2):
        factories.make_holder(estate.cast.north, name="Ann Bell", email=f"ann{nth}@example.org")
    door = factories.make_door(floor=estate.floor)
    facts = {"doors": [door.pk], "for_whom": "other", "holder": "ann bell", "reason": "Cleaning."}
    text = post(client, estate.cast.requester, "ask-building", estate.building.pk, **facts).content.decode()
    assert "Several holders are called “ann bell”. Type the e-mail address." in text
    assert "@example.org" not in text
