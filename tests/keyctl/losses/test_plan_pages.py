"""The page of plans: side by side, the choice, the work; the rates; cores that came out."""

import pytest
from django.test import Client
from django.urls import reverse

from keyctl.audit.models import Event
from keyctl.cores.models import Core, Turn
from keyctl.lib.errors import Conflict
from keyctl.losses import services
from keyctl.losses.models import LossCase, WorkRates
from tests.cast import Cast
from tests.keyctl.losses.estate import Estate
from tests.keyctl.losses.rekeying import choose, plan_of, planned, work

pytestmark = pytest.mark.django_db

RATES = {
    "minutes_per_core": 10,
    "minutes_per_visit": 60,
    "cores_per_visit": 5,
    "minutes_per_key": 2,
    "money_per_hour": 9000,
    "money_per_blank": 300,
    "money_per_pin": 10,
    "currency": "CHF",
}


@pytest.fixture
def house(estate: Estate) -> Estate:
    for name in ("AA1", "AA2", "AB1"):
        estate.door(name)
    return estate


def page(client: Client, case: LossCase) -> str:
    answer = client.get(reverse("losses:plans", args=[case.pk]))
    assert answer.status_code == 200
    return answer.content.decode()


def test_the_plans_stand_side_by_side_with_the_reasons_of_those_that_cannot_be_gone(
    house: Estate, cast: Cast, client: Client
) -> None:
    case = planned(house, "AA")
    client.force_login(cast.officer)
    text = page(client, case)
    assert "Yes, proven" in text
    assert "let the lost cuts in anyhow" in text
    assert text.count("Choose<span") == 1


def test_only_an_officer_sees_the_choice(house: Estate, cast: Cast, client: Client) -> None:
    case = planned(house, "AA1")
    client.force_login(cast.locksmith)
    text = page(client, case)
    assert "Choose<span" not in text
    assert "Work the plans out anew" in text


def test_choosing_on_the_page_opens_the_orders(house: Estate, cast: Cast, client: Client) -> None:
    case = planned(house, "AA1")
    client.force_login(cast.officer)
    plan = plan_of(case, "replace")
    answer = client.post(reverse("losses:choose", args=[plan.pk]), {"version": case.version}, follow=True)
    assert "The plan is chosen." in answer.content.decode()
    assert "Rekey" in page(client, case)


def test_an_old_page_is_told_so(house: Estate, cast: Cast, client: Client) -> None:
    case = planned(house, "AA1")
    client.force_login(cast.officer)
    answer = client.post(reverse("losses:choose", args=[plan_of(case, "replace").pk]), {"version": 1})
    assert answer.status_code == 422
    assert "has changed since you looked" in answer.content.decode()


def test_cores_that_came_out_are_emptied_and_the_proof_is_offered(
    house: Estate, cast: Cast, client: Client
) -> None:
    case = planned(house, "AA1")
    choose(house, case, "replace")
    work(cast, case)
    client.force_login(cast.locksmith)
    text = page(client, case)
    assert "Empty 1 core" in text
    assert "Prove that the lost keys turn nothing" in text
    client.post(reverse("losses:empty-cores", args=[case.pk]))
    came_out = Core.objects.get(place=Core.Place.BENCH)
    assert not came_out.is_pinned
    assert not Turn.objects.filter(core=came_out).exists()
    assert Event.objects.filter(verb="core.emptied_many").count() == 1
    assert "Empty 1 core" not in page(client, case)


def test_rates_are_ours_until_somebody_sets_them(house: Estate, cast: Cast, client: Client) -> None:
    client.force_login(cast.locksmith)
    here = reverse("losses:rates", args=[cast.north.pk])
    assert "ours, to be adapted" in client.get(here).content.decode()
    typed = RATES | {"version": 0, "money_per_hour": "90.00", "money_per_blank": "3", "money_per_pin": "0.1"}
    assert client.post(here, typed).status_code == 302
    rates = WorkRates.objects.get(site=cast.north)
    assert (rates.money_per_hour, rates.money_per_blank, rates.money_per_pin) == (9000, 300, 10)
    assert 'value="90.00"' in client.get(here).content.decode()
    assert (rates.version, rates.changed_by, rates.currency) == (1, cast.locksmith, "CHF")
    with pytest.raises(Conflict, match="have changed since"):
        services.set_rates(actor=cast.officer, site=cast.north, version=0, **RATES)


def test_hours_and_money_follow_the_rates(house: Estate, cast: Cast) -> None:
    services.set_rates(actor=cast.officer, site=cast.north, version=0, **RATES)
    figures = plan_of(planned(house, "A"), "replace").figures
    # Three cores in one building on one visit, and one copy for who lost the master.
    assert figures["minutes"] == 3 * 10 + 60 + 2
    assert figures["money"] == 92 * 9000 // 60 + 300 + figures["pins"] * 10
    assert (figures["visits"], figures["at_once"], figures["currency"]) == (1, 3, "CHF")


def test_pins_are_counted_from_what_a_core_holds_to_what_it_shall_hold(house: Estate) -> None:
    figures = plan_of(planned(house, "AA1"), "take-out").figures
    assert 0 < figures["pins"] < 2 * 7
    assert sum(figures["pins_by_role"].values()) == figures["pins"]
