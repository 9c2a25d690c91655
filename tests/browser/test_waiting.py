"""Who waits sees it within 300 ms, whatever the page waits for; and what was sent is not sent twice.

The server is made slow on purpose: each answer to the address in question is held back. When the sign came,
the page's own clock tells.
"""

import pytest
from playwright.sync_api import Page, Route, expect

from keyctl.approvals.models import KeyRequest
from keyctl.keys.models import Handover
from tests.browser.conftest import Tablet
from tests.cast import gather
from tests.keyctl.approvals.estate import Estate
from tests.keyctl.approvals.estate import set_up as set_up_house
from tests.keyctl.keys.keyroom import KeyRoom, set_up

HELD_BACK = 650
# The promise is 300 ms; a busy machine draws late.
PROMISED, MARGIN = 300, 250
# Kept beside the page, since a page that is left takes its own memory along.
WATCH = """() => {
  const root = document.documentElement, sign = document.getElementById("wait-sign"), note = {};
  const keep = () => sessionStorage.setItem("waited", JSON.stringify(note));
  const asked = () => { note.asked ??= performance.now(); };
  for (const kind of ["click", "keydown"]) addEventListener(kind, asked, true);
  const look = () => {
    if (note.seen || getComputedStyle(sign).visibility !== "visible") return;
    Object.assign(note, { seen: performance.now(), words: sign.textContent });
    keep();
  };
  new MutationObserver(() => requestAnimationFrame(look)).observe(root, { attributeFilter: ["class"] });
  keep();
}"""
GIVE_UP = """async (address) => {
  const look = () => getComputedStyle(document.getElementById("wait-sign")).visibility;
  document.querySelector(`a[href="${address}"]`).click();
  await new Promise((go) => setTimeout(go, 500));
  const before = look();
  document.body.dispatchEvent(new KeyboardEvent("keydown", { key: "Escape", bubbles: true }));
  return [before, look()];
}"""
WAITED = "JSON.parse(sessionStorage.getItem('waited'))"


@pytest.fixture
def room(transactional_db: None) -> KeyRoom:
    return set_up(gather())


def slow(page: Page, address: str) -> list[str]:
    """Hold every answer back; the requests are counted."""
    asked: list[str] = []

    def hold_back(route: Route) -> None:
        asked.append(route.request.url)
        page.wait_for_timeout(HELD_BACK)
        route.continue_()

    page.route(address, hold_back)
    return asked


def sign_came_in_time(page: Page) -> None:
    waited = page.evaluate(WAITED)
    assert waited["words"] == "Working…"
    assert 0 < waited["seen"] - waited["asked"] < PROMISED + MARGIN


def no_sign(page: Page) -> None:
    expect(page.locator("#wait-sign")).to_be_hidden()
    expect(page.locator("#wait-sign")).to_have_text("")


def test_another_page_a_piece_of_one_and_a_file_show_that_they_are_waited_for(
    tablet: Tablet, room: KeyRoom
) -> None:
    copy = room.held()
    tablet.sign_in("desk")
    page = tablet.page

    # A link.
    tablet.go(f"/desk/sites/{room.site.pk}/issue/")
    slow(page, "**/return/")
    page.evaluate(WATCH)
    page.get_by_role("link", name="Return").click()
    page.wait_for_url("**/return/")
    sign_came_in_time(page)
    no_sign(page)

    # A piece of the page, sent by HTMX.
    slow(page, "**/add/")
    page.get_by_label("Scan the keys").fill(copy.serial)
    page.evaluate(WATCH)
    page.keyboard.press("Enter")
    expect(page.get_by_text("1 key on the list")).to_be_visible()
    sign_came_in_time(page)
    no_sign(page)

    # A file: the page stays, and the sign goes when the file is there.
    tablet.go(f"/desk/acts/{Handover.objects.get().pk}/")
    asked = slow(page, "**/prints/**")
    button = page.get_by_role("button", name="Receipt as PDF")
    page.evaluate(WATCH)
    with page.expect_download() as download:
        button.dblclick()
    sign_came_in_time(page)
    assert download.value.suggested_filename.endswith(".pdf")
    no_sign(page)
    expect(button).not_to_have_attribute("aria-disabled", "true")
    assert len(asked) == 1

    # Once more, since nothing stands in the way of it any longer.
    with page.expect_download():
        button.click()
    assert len(asked) == 2
    no_sign(page)
    assert tablet.complaints == []


def test_what_is_fast_shows_no_sign(tablet: Tablet, room: KeyRoom) -> None:
    tablet.sign_in("desk")
    page = tablet.page
    tablet.go(f"/desk/sites/{room.site.pk}/return/")
    page.evaluate(WATCH)
    page.route("**/add/", lambda route: route.fulfill(status=204))
    page.get_by_label("Scan the keys").fill("-")
    page.keyboard.press("Enter")
    page.wait_for_timeout(PROMISED)
    assert "seen" not in page.evaluate(WAITED)


def test_escape_takes_the_sign_away_where_a_page_is_given_up(tablet: Tablet, room: KeyRoom) -> None:
    tablet.sign_in("desk")
    page = tablet.page
    tablet.go(f"/desk/sites/{room.site.pk}/issue/")
    page.route("**/return/", lambda _: None)
    shown = page.evaluate(GIVE_UP, f"/desk/sites/{room.site.pk}/return/")
    assert shown == ["visible", "hidden"]


def test_two_presses_ask_once(tablet: Tablet, transactional_db: None) -> None:
    house: Estate = set_up_house(gather())
    door = house.door(house.key("AA1"))
    tablet.sign_in("requester")
    page = tablet.page
    tablet.go(f"/requests/ask/{house.building.pk}/")
    page.get_by_role("checkbox", name=door.number).check()
    page.get_by_label("What for").fill("Evening course")
    expect(page.locator("#preview")).to_contain_text("1 key")
    asked = slow(page, "**/ask/**")
    page.get_by_role("button", name="Ask for the key").dblclick()
    page.keyboard.press("Enter")
    expect(page.get_by_role("heading", level=1)).to_contain_text(house.building.name)
    assert len(asked) == 1
    assert KeyRequest.objects.count() == 1


def test_two_presses_hand_three_keys_out_once(tablet: Tablet, room: KeyRoom) -> None:
    copies = [room.in_stock() for _ in range(3)]
    tablet.sign_in("desk")
    page = tablet.page
    tablet.go(f"/desk/sites/{room.site.pk}/issue/")
    for text in (room.holder.name, *(copy.serial for copy in copies)):
        page.keyboard.type(text)
        page.keyboard.press("Enter")
    expect(page.get_by_text("3 keys on the list")).to_be_visible()
    page.get_by_label("Or the name, typed").fill("Holder One")
    asked = slow(page, "**/finish/")
    page.get_by_role("button", name="Hand them out").dblclick()
    expect(page.get_by_text("Handed out, no. 1")).to_be_visible()
    assert len(asked) == 1
    assert Handover.objects.count() == 1
