"""The search by keyboard alone, from any page: mistyped, an arrow, Enter; and what axe says of it."""

from playwright.sync_api import expect

from keyctl.accounts.models import User
from keyctl.places.access import visible_doors
from tests.browser.axe import findings
from tests.browser.conftest import Tablet


def test_a_door_is_opened_by_keyboard_from_another_page(estate: None, tablet: Tablet) -> None:
    locksmith = User.objects.get(username="locksmith")
    door = visible_doors(locksmith).order_by("number")[0]
    tablet.sign_in("locksmith")
    tablet.go("/orders/")
    page = tablet.page
    field = page.get_by_role("combobox", name="Search")
    page.keyboard.press("/")
    expect(field).to_be_focused()
    mistyped = door.tag[:6] + door.tag[7:]
    page.keyboard.type(mistyped)
    option = page.get_by_role("option").filter(has_text=door.number).first
    expect(option).to_be_visible()
    expect(field).to_have_attribute("aria-expanded", "true")
    assert findings(page) == []
    page.keyboard.press("ArrowDown")
    expect(option).to_have_attribute("aria-selected", "true")
    assert field.get_attribute("aria-activedescendant") == option.get_attribute("id")
    page.keyboard.press("Escape")
    expect(field).to_have_attribute("aria-expanded", "false")
    expect(field).to_have_value(mistyped)
    page.keyboard.press("ArrowDown")
    page.keyboard.press("Enter")
    page.wait_for_url(f"**/estate/doors/{door.pk}/")
    assert tablet.complaints == []


def test_the_slash_can_be_switched_off_and_is_left_alone_in_fields(estate: None, tablet: Tablet) -> None:
    tablet.sign_in("locksmith")
    tablet.go("/search/?q=zzzzqqq")
    page = tablet.page
    field = page.get_by_role("combobox", name="Search")
    page.get_by_role("searchbox", name="What to look for").fill("a/b")
    switch = page.get_by_role("button", name="The key / leads to the search")
    switch.click()
    expect(switch).to_have_attribute("aria-pressed", "false")
    tablet.go("/orders/")
    page.keyboard.press("/")
    expect(field).not_to_be_focused()
    assert findings(page) == []
