"""Writing an estate down on pages, from an empty building to a door that can be asked for."""

from datetime import timedelta

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from keyctl.accounts.models import User, WayBack
from keyctl.places.models import Building, BuildingManager, Door, Floor, Housing, Membership
from keyctl.places.roles import Role
from tests import factories
from tests.cast import Cast


@pytest.fixture
def administrator(client: Client, cast: Cast) -> Client:
    client.force_login(cast.administrator)
    return client


@pytest.fixture
def building(cast: Cast) -> Building:
    return factories.make_floor(cast.north).building


def door_facts(building: Building, **facts: object) -> dict[str, object]:
    floor = Floor.objects.get(building=building)
    given = {"floor": floor.pk, "number": "101", "door_class": "ordinary", "kind": "mortise"}
    return given | {"construction": "small-format"} | facts


def test_a_building_is_added(administrator: Client, cast: Cast) -> None:
    address = reverse("places:new-building", args=[cast.north.pk])
    answer = administrator.post(address, {"code": "H", "name": "Hall"})
    assert answer.headers["Location"] == reverse("places:building", args=[Building.objects.get(code="H").pk])


def test_a_second_building_of_that_code_is_refused_and_what_was_typed_stays(
    administrator: Client, cast: Cast, building: Building
) -> None:
    address = reverse("places:new-building", args=[cast.north.pk])
    answer = administrator.post(address, {"code": building.code, "name": "Another"})
    assert answer.status_code == 422
    page = answer.content.decode()
    assert "give the new one another code" in page
    # In the form of that site, and in no other.
    assert page.count("Another") == 1
    assert page.index(f'id="{cast.north.code}-code"') < page.index("Another")
    assert page.count("<details open>") == 1


def test_a_floor_is_added(administrator: Client, building: Building) -> None:
    administrator.post(reverse("places:new-floor", args=[building.pk]), {"label": "Cellar", "level": -1})
    assert Floor.objects.filter(building=building, label="Cellar", level=-1).exists()


def test_a_door_comes_with_its_housing(administrator: Client, building: Building) -> None:
    administrator.post(reverse("places:new-door", args=[building.pk]), door_facts(building, is_egress="on"))
    housing = Housing.objects.get(door__number="101")
    assert (housing.construction, housing.door.is_egress) == ("small-format", True)


def test_a_door_on_a_floor_of_another_building_is_refused(
    administrator: Client, cast: Cast, building: Building
) -> None:
    other = factories.make_floor(cast.north)
    address = reverse("places:new-door", args=[building.pk])
    assert administrator.post(address, door_facts(building, floor=other.pk)).status_code == 422
    assert not Door.objects.exists()


def test_a_manager_is_named(administrator: Client, cast: Cast, building: Building) -> None:
    administrator.post(reverse("places:new-manager", args=[building.pk]), {"username": "requester"})
    assert BuildingManager.objects.filter(building=building, user=cast.requester).exists()
    assert Membership.objects.filter(user=cast.requester, role=Role.MANAGER).exists()


def test_nobody_of_another_site_becomes_a_manager(administrator: Client, building: Building) -> None:
    answer = administrator.post(reverse("places:new-manager", args=[building.pk]), {"username": "stranger"})
    assert answer.status_code == 422


def test_a_new_person_sets_a_password_by_the_code_shown_once(administrator: Client, cast: Cast) -> None:
    facts = {"site": cast.north.pk, "username": "new-one", "display_name": "New One", "role": "locksmith"}
    page = administrator.post(reverse("places:people"), facts).content.decode()
    code = page.split('class="secret-value">')[1].split("<")[0]
    assert code not in administrator.get(reverse("places:people")).content.decode()
    assert not User.objects.get(username="new-one").has_usable_password()
    own = {"new_password": "seven brass drawers", "again": "seven brass drawers"}
    taken = {"username": "new-one", "code": code} | own
    assert [Client().post(reverse("accounts:way-back"), taken).status_code for _ in range(2)] == [302, 422]
    assert User.objects.get(username="new-one").check_password("seven brass drawers")


def test_the_code_of_a_new_person_holds_for_three_days(administrator: Client, cast: Cast) -> None:
    facts = {"site": cast.north.pk, "username": "new-one", "display_name": "New One", "role": "locksmith"}
    administrator.post(reverse("places:people"), facts)
    left = WayBack.objects.get(user__username="new-one").expires_at - timezone.now()
    assert timedelta(days=2, hours=23) < left <= timedelta(days=3)


def test_two_people_do_not_share_a_sign_in_name(administrator: Client, cast: Cast) -> None:
    facts = {"site": cast.north.pk, "username": "locksmith", "display_name": "Other", "role": "auditor"}
    assert administrator.post(reverse("places:people"), facts).status_code == 422


@pytest.mark.parametrize("person", ["locksmith", "desk", "manager", "officer", "auditor", "requester"])
@pytest.mark.parametrize("page", ["places:list", "places:people"])
def test_only_administrators_see_the_pages(client: Client, cast: Cast, person: str, page: str) -> None:
    client.force_login(cast.everybody[person])
    assert client.get(reverse(page)).status_code == 403
