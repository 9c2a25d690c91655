"""The field app in the hand: where the thumb finds what, what fits, what stays on the tablet, no scripts."""

import io
import re
from collections.abc import Callable
from contextlib import suppress

import pytest
from PIL import Image
from playwright.sync_api import FilePayload, Page, TimeoutError, expect

from keyctl.accounts.models import User
from keyctl.field.models import FieldPhoto
from tests.browser.conftest import PHONE, TABLET, Tablet
from tests.browser.fieldwork import Round, lay_out, open_hand

SIDEWAYS = "width => document.documentElement.scrollWidth - width"
# Whatever is tapped, but for the skip link, which only a keyboard finds; a tick's row is its target.
SMALL = """[...document.querySelectorAll('button, select, a:not(.skip), summary, textarea, input, .tick')]
  .filter(it => !['checkbox', 'radio'].includes(it.type) && it.checkVisibility())
  .filter(it => it.offsetHeight < 48 || it.offsetWidth < 48).map(it => it.outerHTML.slice(0, 90))"""
# In one go: the page may be made anew between looking for the button and measuring it.
BOX = "document.querySelector('#acts .button-primary').getBoundingClientRect().toJSON()"

AGE = """async () => {
  const promised = (it) => new Promise((done) => { it.onsuccess = () => done(it.result); });
  const base = await promised(indexedDB.open("keyctl-field"));
  const events = base.transaction("events", "readwrite").objectStore("events");
  const record = (await promised(events.getAll()))[0];
  record.event.claimed_at = new Date(Date.now() - 25 * 3600 * 1000).toISOString();
  await promised(events.put(record));
  base.close();
}"""


# A worker that was woken up while it was being replaced sleeps again after half a minute.
STARTS, A_START_MS = 4, 45_000
# The page's scripts begin late, as on a tablet with much else to do.
BEGINS_LATE = """document.addEventListener("readystatechange", () => {
  const until = performance.now() + 4000;
  while (document.readyState === "interactive" && performance.now() < until);
}, { once: true });"""


def start_again(page: Page) -> None:
    """As a hand would: Chromium may lose a start in the moment in which one worker follows on the other."""
    with suppress(TimeoutError):
        page.reload(timeout=A_START_MS)


@pytest.fixture
def work(transactional_db: None) -> Round:
    return lay_out(2, is_egress=True, is_fire_rated=True, name="Laboratory with a long name")


def pages(work: Round) -> list[str]:
    line, housing, door = work.lines[0], work.housings[0], work.doors[0]
    near = [f"#/door/{door.pk}", f"#/swap/{line.pk}", f"#/found/{housing.pk}", f"#/unreached/{line.pk}"]
    return [
        "#/",
        *near,
        f"#/remark/{door.pk}",
        f"#/core/{work.spares[0].tag}",
        "#/find",
        "#/outbox",
        "#/settings",
    ]


@pytest.mark.parametrize(
    ("viewport", "look"),
    [
        (TABLET, {}),
        (PHONE, {"theme": "dark", "hand": "left"}),
        (PHONE, {"theme": "contrast", "size": "large"}),
    ],
)
def test_every_page_fits_and_every_target_is_large(
    open_tablet: Callable[..., Tablet], work: Round, viewport: dict[str, int], look: dict[str, str]
) -> None:
    User.objects.update(display_name="Somebody with a rather long name")
    hand = open_hand(open_tablet, viewport=viewport)
    hand.page.evaluate("look => Object.assign(document.documentElement.dataset, look)", look)
    faults = {}
    for path in pages(work):
        hand.open(path)
        expect(hand.page.locator("#view h1")).not_to_have_text("Not on this tablet")
        small, out = hand.page.evaluate(SMALL), hand.page.evaluate(SIDEWAYS, viewport["width"])
        if small or out > 0:
            faults[path] = (out, small)
    assert faults == {}
    assert hand.tablet.complaints == []


@pytest.mark.parametrize("viewport", [TABLET, PHONE])
def test_a_left_hand_finds_the_main_act_on_the_left_edge_after_a_reload_too(
    open_tablet: Callable[..., Tablet], work: Round, viewport: dict[str, int]
) -> None:
    hand = open_hand(open_tablet, viewport=viewport)
    main = hand.page.locator("#acts .button-primary")
    right = hand.page.evaluate(BOX)
    assert right["x"] + right["width"] > viewport["width"] - 32
    hand.open("#/settings")
    hand.choose("The hand that taps", "Left")
    hand.page.goto(f"{hand.tablet.url}/field/")
    main.wait_for()
    left = hand.page.evaluate(BOX)
    assert left["x"] < 32
    # Within the thumb's reach: the lower third.
    assert left["y"] > viewport["height"] * 2 / 3


def test_a_door_shows_what_is_in_it_and_its_cautions_and_a_scanner_opens_it(
    open_tablet: Callable[..., Tablet], work: Round
) -> None:
    hand = open_hand(open_tablet)
    # A hand scanner types fast and ends with Enter, whatever has the focus.
    hand.page.keyboard.type(f"HTTP://KEYS.EXAMPLE/Q/{work.doors[1].tag}", delay=2)
    hand.page.keyboard.press("Enter")
    expect(hand.page.get_by_role("heading", name=work.doors[1].number, exact=True)).to_be_visible()
    expect(hand.page.get_by_text(str(work.inside[1]))).to_be_visible()
    cautions = hand.page.get_by_role("complementary", name="Caution")
    expect(cautions).to_have_text(
        [re.compile("Egress door.*local code", re.S), re.compile("Fire-rated.*local code", re.S)]
    )
    hand.open("#/find")
    hand.page.get_by_label("Scan or type").fill("01")
    hand.page.get_by_label("Scan or type").press("Enter")
    expect(hand.page.get_by_role("heading", name="01", exact=True)).to_be_visible()


def test_the_tablet_holds_the_app_and_the_pack_and_no_secret(
    open_tablet: Callable[..., Tablet], work: Round
) -> None:
    hand = open_hand(open_tablet)
    hand.swap(work.lines[0])
    hand.sees("all sent")
    held = hand.held()
    # The search finds what is there: a core's tag in the pack, a word of the frame.
    assert work.spares[1].tag in held
    assert "Which core goes in?" in held
    secrets = work.secrets()
    assert len(secrets) > 8
    assert [each for each in secrets if re.search(rf"(?<!\d){re.escape(each)}(?!\d)", held)] == []
    assert "csrfmiddlewaretoken" not in held
    (names,) = hand.cached().values()
    assert "/field/" in names
    made = r"/field/(manifest\.webmanifest|words\.js|page-words\.json)?$"
    allowed = re.compile(rf"{made}|/static/(css|js/field|icons|vendor)/")
    assert [name for name in names if not allowed.match(name)] == []


def test_another_language_comes_with_the_next_start_and_stays_without_a_network(
    open_tablet: Callable[..., Tablet], work: Round
) -> None:
    hand = open_hand(open_tablet)
    hand.open("#/find")
    # Somebody at work keeps the words of the start; the new ones are fetched whole, and then shown.
    User.objects.update(language="de")
    start_again(hand.page)
    load = hand.page.get_by_role("button", name="Load it")
    found = hand.page.get_by_role("heading", name="Finden", exact=True)
    for _ in range(STARTS):
        # Beside other work the browser now and then holds the newer one back until one more start.
        with suppress(TimeoutError):
            load.or_(found).wait_for(timeout=A_START_MS)
            break
        start_again(hand.page)
    if load.is_visible():
        load.click()
    expect(found).to_be_visible()
    hand.context.set_offline(True)
    hand.page.reload()
    expect(hand.page.locator("html")).to_have_attribute("lang", "de")
    hand.open(f"#/swap/{work.lines[0].pk}")
    hand.page.get_by_role("button", name="Der Tausch ist erledigt").click()
    expect(hand.page.get_by_role("alert")).to_contain_text("Welcher Kern kommt hinein?")
    hand.open(f"#/unreached/{work.lines[1].pk}")
    hand.page.get_by_label("Der Raum ist belegt").check()
    hand.page.get_by_role("button", name="Aufschreiben").click()
    hand.sees("nicht gesendet, ältestes: jetzt")
    hand.open("#/outbox")
    expect(hand.page.locator("#view")).to_contain_text("1 Eintrag liegt auf diesem Tablet")


def test_a_newer_version_that_took_over_before_the_page_began_is_told_of(
    open_tablet: Callable[..., Tablet], work: Round
) -> None:
    hand = open_hand(open_tablet)
    hand.page.add_init_script(BEGINS_LATE)
    for language in ("de", "en", "de", "en")[:STARTS]:
        User.objects.update(language=language)
        start_again(hand.page)
        with suppress(TimeoutError):
            hand.page.locator("#banner button").click(timeout=A_START_MS)
            break
        start_again(hand.page)
    else:
        pytest.fail("No start told of the newer version.")
    expect(hand.page.locator("html")).to_have_attribute("lang", language)


def test_a_sign_out_on_an_ordinary_page_takes_orders_and_doors_off_the_tablet(
    open_tablet: Callable[..., Tablet], work: Round
) -> None:
    hand = open_hand(open_tablet)
    assert work.doors[1].tag in hand.held()
    hand.tablet.go("/account/me/")
    hand.tablet.sign_out()
    expect(hand.page.get_by_label("Username")).to_be_visible()
    assert work.doors[1].tag not in hand.held()


def test_without_scripts_the_frame_leads_to_the_ordinary_orders(
    open_tablet: Callable[..., Tablet], work: Round
) -> None:
    tablet = open_tablet(java_script_enabled=False)
    tablet.sign_in("locksmith")
    tablet.go("/field/")
    expect(tablet.page.get_by_text("it needs scripts")).to_be_visible()
    tablet.page.get_by_role("link", name="Work orders").click()
    expect(tablet.page.get_by_text("New tenants")).to_be_visible()


def test_one_act_of_each_kind_is_written_offline_shown_at_once_and_taken(
    open_tablet: Callable[..., Tablet], work: Round
) -> None:
    hand = open_hand(open_tablet)
    page = hand.page
    hand.context.set_offline(True)
    hand.open(f"#/unreached/{work.lines[1].pk}")
    page.get_by_label("The room is in use").check()
    page.get_by_role("button", name="Write it down").click()
    expect(page.get_by_text("Not reached at")).to_be_visible()

    hand.open(f"#/remark/{work.doors[1].pk}")
    page.get_by_label("What should be known").fill("The closer leaks.")
    picture = io.BytesIO()
    Image.new("RGB", (640, 480), "grey").save(picture, "JPEG")
    file: FilePayload = {"name": "closer.jpg", "mimeType": "image/jpeg", "buffer": picture.getvalue()}
    page.get_by_label("Photo").set_input_files(file)
    expect(page.get_by_text("It is kept with what you write down")).to_be_visible()
    page.get_by_role("button", name="Keep it").click()
    expect(page.get_by_text("The closer leaks.")).to_be_visible()

    hand.open(f"#/core/{work.spares[0].tag}")
    page.get_by_label("Bench").check()
    page.get_by_role("button", name="It is there now").click()
    expect(page.get_by_text("on the bench", exact=True)).to_be_visible()

    hand.open(f"#/found/{work.housings[1].pk}")
    page.get_by_label("No core at all").check()
    page.get_by_role("button", name="Write it down").click()
    expect(page.get_by_text("It was found empty")).to_be_visible()
    hand.sees("6")
    # A day and an hour later.
    page.evaluate(AGE)
    page.goto(f"{hand.tablet.url}/field/#/outbox")
    page.reload()
    expect(page.locator("#banner")).to_contain_text("written 1 day ago and is not sent yet")

    hand.context.set_offline(False)
    hand.send()
    hand.sees("all sent, 1 to settle")
    expect(page.get_by_text("Taken", exact=True)).to_have_count(4)
    assert FieldPhoto.objects.get().door == work.doors[1]
