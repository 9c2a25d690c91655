"""Keys are asked for, decided with their effect in sight, cut, made ready and collected, by five people."""

from collections.abc import Callable

import pytest
from playwright.sync_api import expect

from keyctl.approvals.models import KeyRequest
from keyctl.keys.models import Handover
from keyctl.orders.models import OrderLine
from keyctl.places.models import BuildingManager
from tests import factories
from tests.browser.conftest import PHONE, Tablet
from tests.cast import gather
from tests.keyctl.approvals.estate import Estate, set_up

Opener = Callable[..., Tablet]


@pytest.fixture
def house(transactional_db: None) -> Estate:
    return set_up(gather())


def signed_in(open_tablet: Opener, name: str, **facts: object) -> Tablet:
    tablet = open_tablet(**facts)
    tablet.sign_in(name)
    return tablet


def ask(tablet: Tablet, house: Estate, number: str) -> tuple[KeyRequest, int]:
    """(the request, how many acts it took from the list of requests on)."""
    page, acts = tablet.page, 0
    tablet.go("/requests/")
    page.get_by_role("link", name="Ask for a key").first.click()
    page.get_by_role("link", name=house.building.name).click()
    page.get_by_label("Find doors").fill(number)
    expect(page.locator("#doors").get_by_role("checkbox")).to_have_count(1)
    acts += 3
    page.locator("#doors").get_by_role("checkbox").check()
    expect(page.locator("#preview")).to_contain_text("1 key")
    page.get_by_label("What for").fill("Evening course")
    page.get_by_role("button", name="Ask for the key").click()
    acts += 3
    expect(page.get_by_role("heading", level=1)).to_contain_text(house.building.name)
    return KeyRequest.objects.latest("asked_at"), acts


def decide(tablet: Tablet, request: KeyRequest, button: str) -> None:
    tablet.go(f"/requests/{request.pk}/")
    expect(tablet.page.get_by_text("Beyond those asked").first).to_be_visible()
    if tablet.page.get_by_role("radio").count():
        tablet.page.get_by_role("radio").first.check()
    tablet.page.get_by_role("button", name=button).click()
    expect(tablet.page.locator("#messages")).to_contain_text("Approved")


def test_a_master_is_asked_for_decided_twice_cut_and_collected(house: Estate, open_tablet: Opener) -> None:
    master = house.key("AA", is_master=True)
    door = house.door(master)
    house.door(master)

    requester = signed_in(open_tablet, "requester", viewport=PHONE)
    request, acts = ask(requester, house, door.number)
    assert acts <= 8
    expect(requester.page.locator("main")).to_contain_text("Waiting for a decision")

    manager, officer = signed_in(open_tablet, "manager"), signed_in(open_tablet, "officer")
    decide(manager, request, "Approve the chosen keys")
    requester.page.reload()
    expect(requester.page.locator("main")).to_contain_text("Decision: A security officer")
    decide(officer, request, "Approve these keys")
    request.refresh_from_db()
    assert request.state == KeyRequest.State.APPROVED

    locksmith = signed_in(open_tablet, "locksmith")
    locksmith.go(f"/orders/{OrderLine.objects.get().order_id}/")
    locksmith.page.get_by_role("button", name="Cut and put in the cabinet").click()
    locksmith.page.get_by_role("button", name="Book them in").click()
    expect(locksmith.page.get_by_text("Serials of line 1")).to_be_visible()
    requester.page.reload()
    expect(requester.page.locator("main")).to_contain_text("Ready to collect")

    desk = signed_in(open_tablet, "desk")
    desk.go("/requests/desk/")
    desk.page.get_by_role("button", name=f"Hand out at the desk to {request.holder}").click()
    desk.page.get_by_role("button", name="They all lie here").click()
    expect(desk.page.get_by_text("1 key on the list")).to_be_visible()
    desk.page.get_by_label("Or the name, typed").fill("Requester")
    desk.page.get_by_role("button", name="Hand them out").click()
    expect(desk.page.get_by_text("Handed out, no. 1")).to_be_visible()

    request.refresh_from_db()
    act = Handover.objects.get()
    assert request.state == KeyRequest.State.HANDED_OUT
    assert (act.signed_as, act.holder) == ("Requester", request.holder)
    requester.page.reload()
    expect(requester.page.locator("main")).to_contain_text("Keys collected")
    people = (requester, manager, officer, locksmith, desk)
    assert [tablet.complaints for tablet in people] == [[], [], [], [], []]


def test_doors_are_chosen_and_weighed_without_scripts(house: Estate, open_tablet: Opener) -> None:
    doors = [house.door(house.key(f"AA{n}")) for n in range(3)]
    tablet = signed_in(open_tablet, "requester", java_script_enabled=False)
    tablet.go(f"/requests/ask/{house.building.pk}/")
    page = tablet.page
    page.get_by_label("What for").fill("Three rooms")
    page.get_by_label("Find doors").fill(", ".join(door.number for door in doors[:2]))
    page.locator("main").get_by_role("button", name="Find").first.click()
    page.get_by_role("button", name="Choose all shown").click()
    expect(page.locator("#preview")).to_contain_text("2 keys")
    page.get_by_role("button", name="Ask for the key").click()
    request = KeyRequest.objects.get()
    assert (request.reason, set(request.doors.all())) == ("Three rooms", set(doors[:2]))


def test_the_best_keys_take_the_place_of_the_preview(
    house: Estate, open_tablet: Opener, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("keyctl.approvals.previewing.QUICK_TURNS", 0)
    master = house.key("AA", is_master=True)
    request = house.ask(*(house.door(house.key(f"AA{n}"), master) for n in range(2)))
    house.door(master)
    manager = signed_in(open_tablet, "manager")
    manager.go(f"/requests/{request.pk}/")
    expect(manager.page.get_by_text("Proven: no set of as few keys").first).to_be_visible()
    expect(manager.page.get_by_text("At first glance")).to_have_count(0)
    assert manager.complaints == []


def test_a_manager_does_not_decide_their_own_request(house: Estate, tablet: Tablet) -> None:
    door = house.door(house.key("AA1"))
    BuildingManager.objects.create(
        building=house.building, user=factories.make_user("second", site=house.cast.north)
    )
    tablet.sign_in("manager")
    asked, _ = ask(tablet, house, door.number)
    tablet.go(f"/requests/{asked.pk}/")
    expect(tablet.page.get_by_text("Another manager of the building decides")).to_be_visible()
    expect(tablet.page.get_by_role("button", name="Approve the chosen keys")).to_have_count(0)
