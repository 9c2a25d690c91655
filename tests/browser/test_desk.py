"""The key desk in a browser: an act by keyboard and its time, drawn signatures, returns, and no scripts."""

import io
import re
from collections.abc import Callable
from time import monotonic

import pypdfium2
import pytest
from playwright.sync_api import Page, Route, expect
from pypdf import PdfReader

from keyctl.keys.models import Handover, KeyCopy
from keyctl.keys.services import publish_terms
from keyctl.notices.models import Notice
from keyctl.vault import services as vault
from tests import factories
from tests.browser.conftest import PHONE, Tablet
from tests.cast import gather
from tests.keyctl.keys.keyroom import KeyRoom, set_up

# How fast a person types, and how fast a scanner does: milliseconds between two signs.
TYPING, SCANNING = 120, 3
TERMS = "Bring the keys back yourself.\nTell the desk at once when one is lost."


@pytest.fixture
def room(transactional_db: None) -> KeyRoom:
    room = set_up(gather())
    room.holder.name, room.holder.email = "Ann Bell", "ann@example.org"
    room.holder.save()
    publish_terms(actor=room.cast.administrator, site=room.site, text=TERMS)
    return room


class Hands:
    """Keys pressed, and how many acts that were: a scan is one, each typed sign is one."""

    def __init__(self, page: Page) -> None:
        self.keyboard, self.acts = page.keyboard, 0

    def scan(self, copy: KeyCopy) -> None:
        self.keyboard.type(copy.serial, delay=SCANNING)
        self.keyboard.press("Enter")
        self.acts += 1

    def type(self, text: str) -> None:
        self.keyboard.type(text, delay=TYPING)
        self.acts += len(text)
        self.enter()

    def enter(self) -> None:
        self.keyboard.press("Enter")
        self.acts += 1


def at_desk(tablet: Tablet, room: KeyRoom, way: str = "issue") -> Page:
    tablet.sign_in("desk")
    tablet.go(f"/desk/sites/{room.site.pk}/{way}/")
    return tablet.page


def test_three_keys_go_out_in_less_than_15_seconds_without_a_mouse(tablet: Tablet, room: KeyRoom) -> None:
    copies = [room.in_stock() for _ in range(3)]
    page = at_desk(tablet, room)
    hands, began = Hands(page), monotonic()
    hands.type("ann bell")
    for copy in copies:
        hands.scan(copy)
    expect(page.get_by_text("3 keys on the list")).to_be_visible()
    hands.enter()
    hands.type("Ann Bell")
    expect(page.get_by_text("Handed out, no. 1")).to_be_visible()
    assert monotonic() - began < 15
    # Sixteen signs of the two names, their two Enters, three scans, and Enter alone.
    assert hands.acts == 22
    act = Handover.objects.get()
    assert act.lines_out.count() == 3
    assert (act.holder, act.signed_as) == (room.holder, "Ann Bell")
    # The next person may come: the field waits for a card.
    expect(page.locator("#scan")).to_be_focused()
    assert tablet.complaints == []


def test_scans_that_come_faster_than_the_server_answers_are_all_taken(tablet: Tablet, room: KeyRoom) -> None:
    copies = [room.in_stock() for _ in range(12)]
    page = at_desk(tablet, room)

    def slowly(route: Route) -> None:
        page.wait_for_timeout(120)
        route.continue_()

    page.route("**/add/", slowly)
    hands = Hands(page)
    for copy in copies:
        hands.scan(copy)
    expect(page.get_by_text("12 keys on the list")).to_be_visible()
    shown = page.locator(".desk-keys .code.nowrap").all_inner_texts()
    assert shown == [str(copy) for copy in copies]


def test_a_scan_that_does_not_reach_the_server_is_not_lost(tablet: Tablet, room: KeyRoom) -> None:
    copy = room.in_stock()
    page = at_desk(tablet, room)
    page.route("**/add/", lambda route: route.abort())
    hands = Hands(page)
    hands.scan(copy)
    expect(page.get_by_role("alert").filter(has_text="Not on the list yet")).to_contain_text(copy.serial)
    page.unroute("**/add/")
    hands.enter()
    expect(page.get_by_text("1 key on the list")).to_be_visible()


def draw(page: Page) -> None:
    """A wave across the field, by mouse, in two strokes."""
    board = page.locator(".desk-field")
    board.scroll_into_view_if_needed()
    box = board.bounding_box()
    assert box is not None
    for start in (0.1, 0.55):
        page.mouse.move(box["x"] + box["width"] * start, box["y"] + box["height"] * 0.5)
        page.mouse.down()
        for step in range(1, 13):
            height = 0.3 if step % 4 < 2 else 0.7
            page.mouse.move(
                box["x"] + box["width"] * (start + step * 0.03), box["y"] + box["height"] * height
            )
        page.mouse.up()


def test_a_signature_is_drawn_kept_and_stands_on_the_receipt(tablet: Tablet, room: KeyRoom) -> None:
    copy = room.in_stock()
    page = at_desk(tablet, room)
    hands = Hands(page)
    hands.type("ann bell")
    hands.scan(copy)
    expect(page.get_by_text("1 key on the list")).to_be_visible()
    draw(page)
    page.get_by_role("button", name="Clear the signature").click()
    assert page.locator("[data-desk-strokes]").input_value() == ""
    draw(page)
    page.get_by_role("button", name="Hand them out").click()
    expect(page.get_by_text("Handed out, no. 1")).to_be_visible()
    act = Handover.objects.get()
    strokes = vault.unseal(act, "signature")
    assert (act.sign_way, strokes.count("M")) == ("drawn", 2)
    across = [int(x) for x in re.findall(r"[ML](\d+) ", strokes)]
    assert 80 <= min(across) <= 120
    assert 880 <= max(across) <= 940
    with page.expect_download() as download:
        page.get_by_role("button", name="Receipt as PDF").click()
    pdf = download.value.path().read_bytes()
    text = PdfReader(io.BytesIO(pdf)).pages[0].extract_text()
    assert str(copy) in text
    assert room.symbol.symbol not in text
    assert "Bring the keys back yourself." in text
    assert ink_where_signed(pdf) > 200
    assert Notice.objects.get().attachment_id == act.pk
    assert tablet.complaints == []


def ink_where_signed(pdf: bytes) -> int:
    """Dark dots in the left half of the lower part of the page, where no words stand: 72 dots an inch."""
    picture = pypdfium2.PdfDocument(pdf)[0].render(scale=1).to_pil().convert("L")
    words = PdfReader(io.BytesIO(pdf)).pages[0]
    assert "Signed on the screen" in words.extract_text()
    width, height = picture.size
    part = picture.crop((50, height // 4, width // 2, height - 60))
    return sum(value < 100 for value in part.tobytes())


def test_keys_come_back_by_scan_into_the_remembered_cabinet(tablet: Tablet, room: KeyRoom) -> None:
    other = factories.make_holder(room.site, name="Bob Cole")
    copies = [room.held(), room.give(room.in_stock(), other)]
    page = at_desk(tablet, room, "return")
    hands = Hands(page)
    for copy in copies:
        hands.scan(copy)
    expect(page.get_by_text("2 keys on the list")).to_be_visible()
    # The network is so slow that the list is signed before the word about a key has arrived.
    page.route("**/condition/", lambda _: None)
    page.get_by_label(f"Condition of {copies[1]}").select_option("Bent")
    hands.keyboard.press("Alt+k")
    page.get_by_label("Into the cabinet").select_option(str(room.cabinet))
    page.get_by_role("button", name="Take them back").click()
    expect(page.get_by_text("Returned, no. 3")).to_be_visible()
    act = Handover.objects.get(way="back")
    conditions = act.lines_back.values_list("condition_back", flat=True)
    assert sorted(conditions) == ["", "Bent"]
    assert page.get_by_label("Into the cabinet").input_value() == str(room.cabinet.pk)
    assert tablet.complaints == []


def test_a_refused_scan_is_announced_and_the_list_outlives_a_reload(tablet: Tablet, room: KeyRoom) -> None:
    copy, out = room.in_stock(), room.held()
    page = at_desk(tablet, room)
    hands = Hands(page)
    hands.scan(copy)
    expect(page.get_by_text("1 key on the list")).to_be_visible()
    hands.scan(out)
    expect(page.get_by_role("alert").filter(has_text="is out with Ann Bell")).to_be_visible()
    page.get_by_label("Back by").select_option("In 8 hours")
    page.wait_for_timeout(300)
    page.reload()
    expect(page.get_by_text("1 key on the list")).to_be_visible()
    assert page.get_by_label("Back by").input_value() == "8h"


def test_one_of_several_people_is_chosen_by_keyboard(tablet: Tablet, room: KeyRoom) -> None:
    factories.make_holder(room.site, name="Ann Bellamy")
    page = at_desk(tablet, room)
    hands = Hands(page)
    hands.type("ann b")
    expect(page.get_by_role("button", name="Ann Bell, ann@example.org")).to_be_focused()
    hands.keyboard.press("Tab")
    hands.enter()
    expect(page.get_by_role("heading", name="Ann Bellamy")).to_be_visible()
    expect(page.locator("#scan")).to_be_focused()


def test_without_scripts_the_desk_works_too(open_tablet: Callable[..., Tablet], room: KeyRoom) -> None:
    copy = room.in_stock()
    tablet = open_tablet(java_script_enabled=False)
    page = at_desk(tablet, room)
    for text in ("ann bell", copy.serial):
        page.locator("#scan").fill(text)
        page.get_by_role("button", name="Add").click()
    expect(page.get_by_text("1 key on the list")).to_be_visible()
    page.get_by_label("Or the name, typed").fill("Ann Bell")
    page.get_by_role("button", name="Hand them out").click()
    expect(page.get_by_text("Handed out, no. 1")).to_be_visible()


@pytest.mark.parametrize("way", ["issue", "return", "transfer"])
def test_nothing_runs_out_of_a_phone(open_tablet: Callable[..., Tablet], room: KeyRoom, way: str) -> None:
    tablet = open_tablet(viewport=PHONE)
    page = at_desk(tablet, room, way)
    copy = room.in_stock() if way == "issue" else room.held()
    Hands(page).scan(copy)
    expect(page.get_by_text("1 key on the list")).to_be_visible()
    assert page.evaluate("document.documentElement.scrollWidth") == PHONE["width"]
    targets = page.locator("main :is(button, .button, select, input:not([type=hidden]))").all()
    low = [each.inner_text() for each in targets if (box := each.bounding_box()) and box["height"] < 47.5]
    assert low == []
