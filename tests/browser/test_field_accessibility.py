"""By WCAG 2.2 AA axe finds nothing: on each view of the field app in each of its looks, without a network,
and on the pages that the server makes for the field."""

import json
from collections.abc import Callable, Iterator
from typing import Literal
from uuid import uuid4

import pytest
from django.urls import reverse
from playwright.sync_api import Browser, Page, ViewportSize, expect

from keyctl.cores import services as cores
from keyctl.cores.models import Core
from keyctl.field import services
from keyctl.field.models import Device, ReconcileCase
from keyctl.orders import services as orders
from tests.browser.axe import findings
from tests.browser.conftest import PHONE, TABLET, Tablet
from tests.browser.fieldwork import Hand, Round, lay_out, open_hand
from tests.keyctl.field.fieldroom import tablet_of
from tests.keyctl.field.photographs import a_photo

SIZES: dict[Literal["light", "dark"], ViewportSize] = {"light": TABLET, "dark": PHONE}
# So tall that nothing lies under the foot, which stays in sight: what can be scrolled clear is not covered.
TALL = ViewportSize(width=PHONE["width"], height=3000)
LOOKS = {"Light": ViewportSize(width=TABLET["width"], height=3000), "Dark": TALL, "Bright sun": TALL}
OPEN = """hash => new Promise((done) => {
  if (window.location.hash === hash) return done();
  window.addEventListener("hashchange", () => setTimeout(done), { once: true });
  window.location.hash = hash;
})"""
IS_IN_MAIN = "document.activeElement.closest('main') !== null"
# The element with the focus, where none of nine points of it is to be seen.
COVERED = """() => {
  const it = document.activeElement;
  if (!it.closest("main")) return [];
  const area = it.closest("label") ?? it;
  const box = area.getBoundingClientRect();
  const parts = [0.1, 0.5, 0.9];
  const points = parts.flatMap((x) => parts.map((y) => [box.left + x * box.width, box.top + y * box.height]));
  const isShown = points.some(([x, y]) => area.contains(document.elementFromPoint(x, y)));
  return isShown ? [] : [it.outerHTML.slice(0, 100)];
}"""
FAULTY = """<!doctype html><title></title>
<p style="color: #aaa; background: #fff">Pale words</p>
<button style="width: 10px; height: 10px; padding: 0">a</button>
<button style="width: 10px; height: 10px; padding: 0">b</button><input>"""


@pytest.fixture
def work(transactional_db: None) -> Round:
    work = lay_out(3, name="Stair hall", is_egress=True, is_fire_rated=True)
    doors, actor = work.doors, work.cast.locksmith
    orders.open_inspect_order(actor=actor, site=work.cast.north, title="Escape doors", doors=doors[:1])
    return work


@pytest.fixture
def hand(open_tablet: Callable[..., Tablet], work: Round) -> Hand:
    """One swap is taken, one is not sent yet and will contradict the register."""
    hand = open_hand(open_tablet)
    hand.swap(work.lines[0])
    hand.sees("all sent")
    hand.context.set_offline(True)
    hand.swap(work.lines[1])
    hand.sees("not sent")
    spare = Core.objects.get(pk=work.spares[1].pk)
    cores.move_core(actor=work.cast.locksmith, core=spare, version=spare.version, place=Core.Place.BENCH)
    return hand


def views(work: Round) -> dict[str, str]:
    check = work.doors[0].order_lines.get()
    return {
        "orders": "#/",
        "find": "#/find",
        "door": f"#/door/{work.doors[0].pk}",
        "door with work": f"#/door/{work.doors[2].pk}",
        "core": f"#/core/{work.spares[2].tag}",
        "swap": f"#/swap/{work.lines[2].pk}",
        "found": f"#/found/{work.housings[2].pk}",
        "check": f"#/check/{check.pk}",
        "unreached": f"#/unreached/{work.lines[2].pk}",
        "remark": f"#/remark/{work.doors[0].pk}",
        "outbox": "#/outbox",
        "nowhere": "#/nowhere",
    }


def walked(hand: Hand, work: Round, look: str) -> Iterator[str]:
    """Stops at each view, and where a dialog lies over one, in this look."""
    page = hand.page
    page.set_viewport_size(LOOKS[look])
    page.evaluate(OPEN, "#/settings")
    page.get_by_label(look).check()
    yield "settings"
    page.get_by_role("button", name="Sign out").click()
    yield "the question before signing out"
    page.get_by_role("button", name="Go back").click()
    for name, view in views(work).items():
        page.evaluate(OPEN, view)
        if name == "find":
            yield from found_and_scanned(page, work)
        if name == "swap":
            page.get_by_role("button", name="The swap is done").click()
        yield name


def found_and_scanned(page: Page, work: Round) -> Iterator[str]:
    page.locator("#acts").get_by_role("button", name="Scan").click()
    yield "scanner"
    page.get_by_role("button", name="Go back").click()
    page.get_by_label("Scan or type").fill(work.doors[2].number)


def test_each_view_of_the_field_app_in_each_look(hand: Hand, work: Round) -> None:
    found, seen = {}, []
    for look in LOOKS:
        for name in walked(hand, work, look):
            seen.append(hand.page.title())
            if faults := findings(hand.page):
                found[f"{name}, {look}"] = faults
    assert not found, json.dumps(found, indent=1)
    # A view that is not there shows the page of what is nowhere, which would hide its faults.
    assert seen.count("Not on this tablet – keyctl in the field") == len(LOOKS)


def test_the_pages_that_the_server_makes_for_the_field(hand: Hand, work: Round) -> None:
    hand.context.set_offline(False)
    hand.send()
    expect(hand.page.locator("[data-unsent]")).to_contain_text("to settle")
    quarantined(work)
    photo = a_photo(work.cast.locksmith, uuid4(), work.doors[0])
    device = Device.objects.get(withdrawn_at__isnull=True)
    pages = [
        reverse("field:devices"),
        reverse("field:register"),
        reverse("field:device", args=[device.pk]),
        reverse("field:cases"),
        reverse("field:case", args=[ReconcileCase.objects.get().pk]),
        reverse("field:hand-in"),
        reverse("field:quarantine"),
        reverse("field:photo", args=[photo.pk]),
        reverse("field:door-photos", args=[work.doors[0].pk]),
    ]
    found = {}
    for path in pages:
        hand.tablet.go(path)
        for theme, size in SIZES.items():
            hand.page.emulate_media(color_scheme=theme)
            hand.page.set_viewport_size(size)
            if faults := findings(hand.page):
                found[f"{path}, {theme}"] = faults
    assert not found, json.dumps(found, indent=1)


def quarantined(work: Round) -> None:
    """What a tablet tells that was withdrawn."""
    actor = work.cast.locksmith
    old = tablet_of(actor, work.cast.north, name="Tablet 9")
    assert old.device
    services.withdraw_device(actor=actor, device=old.device, reason="Left in a train")
    old.send(old.put(work.spares[2]))


def test_what_the_keyboard_reaches_lies_in_sight(hand: Hand, work: Round) -> None:
    """The bar above and the foot below cover nothing that has the focus (2.4.11): axe does not see that."""
    covered, seen = [], 0
    for size in (PHONE, TABLET):
        hand.page.set_viewport_size(size)
        for view in (f"#/swap/{work.lines[2].pk}", "#/settings"):
            hand.page.evaluate(OPEN, view)
            while hand.page.evaluate(IS_IN_MAIN):
                hand.page.keyboard.press("Tab")
                covered += hand.page.evaluate(COVERED)
                seen += 1
    assert seen > 20
    assert covered == []


def test_what_axe_is_asked_for_it_finds(browser: Browser) -> None:
    page = browser.new_page()
    page.set_content(FAULTY)
    rules = {each.split(":")[0] for each in findings(page)}
    page.close()
    assert {"color-contrast", "document-title", "html-has-lang", "label", "target-size"} <= rules
