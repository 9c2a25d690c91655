"""A key is asked for, decided with its effect in sight, and handed out, by three people."""

from collections.abc import Callable

from playwright.sync_api import expect

from keyctl.approvals.models import KeyRequest
from keyctl.keys.models import KeyCopy
from keyctl.places.models import Building
from keyctl.systems.models import KeySymbol
from tests import factories
from tests.browser.conftest import Tablet


def stock_every_key(building: Building) -> None:
    """A copy of each change key in the cabinet, so that the desk has what is approved."""
    cabinet = building.site.cabinets.first()
    assert cabinet is not None
    keys = KeySymbol.objects.filter(cores__housing__door__floor__building=building).distinct()
    for symbol in keys:
        factories.make_copy(symbol, cabinet)


def ask(tablet: Tablet, building: Building) -> KeyRequest:
    tablet.go(f"/requests/ask/{building.pk}/")
    tablet.page.get_by_role("checkbox").first.check()
    tablet.page.get_by_label("What for").or_(tablet.page.get_by_label("Reason")).first.fill("Evening course")
    tablet.page.get_by_role("button", name="Ask for the key").click()
    expect(tablet.page.get_by_role("heading", level=1)).to_contain_text(building.name)
    return KeyRequest.objects.latest("asked_at")


def test_from_the_question_to_the_key(estate: None, open_tablet: Callable[..., Tablet]) -> None:
    building = Building.objects.order_by("site__code", "code")[0]
    stock_every_key(building)

    requester = open_tablet()
    requester.sign_in("requester")
    asked = ask(requester, building)

    manager = open_tablet()
    manager.sign_in("manager")
    manager.go(f"/requests/{asked.pk}/")
    expect(manager.page.get_by_text("Beyond those asked").first).to_be_visible()
    manager.page.get_by_role("radio").first.check()
    manager.page.get_by_role("button", name="Approve the chosen keys").click()
    expect(manager.page.locator("main")).to_contain_text("Keys given")

    desk = open_tablet()
    desk.sign_in("key-desk")
    desk.go(f"/requests/{asked.pk}/")
    desk.page.get_by_role("link", name="Hand out").first.click()
    desk.page.get_by_label("Signed").or_(desk.page.get_by_label("Signature")).first.fill("Demo requester")
    desk.page.get_by_role("button", name="Hand out the key").click()
    expect(desk.page.locator("main")).to_contain_text("Handed out")

    asked.refresh_from_db()
    assert asked.state == KeyRequest.State.HANDED_OUT
    assert KeyCopy.objects.filter(grants__request=asked, holder=asked.holder).count() == asked.grants.count()
    assert [tablet.complaints for tablet in (requester, manager, desk)] == [[], [], []]


def test_a_manager_does_not_decide_their_own_request(estate: None, tablet: Tablet) -> None:
    building = Building.objects.order_by("site__code", "code")[0]
    tablet.sign_in("manager")
    asked = ask(tablet, building)
    tablet.go(f"/requests/{asked.pk}/")
    expect(tablet.page.get_by_text("Another manager of the building decides")).to_be_visible()
    expect(tablet.page.get_by_role("button", name="Approve the chosen keys")).to_have_count(0)
