"""Codes by the camera and by hand, and photos: a real Chromium, whose camera shows a label made here."""

import base64
import hashlib
import io
import random
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
import segno
from django.urls import reverse
from PIL import Image
from playwright.sync_api import Browser, Page, Route, expect

from keyctl.field.jpeg import read_frame
from keyctl.field.models import FieldPhoto
from keyctl.lib.tags import grouped
from keyctl.places.finding import printed_address
from keyctl.vault import services as vault
from tests.browser.conftest import FLAGS, PHONE, LiveServer, Tablet, chromium
from tests.browser.fieldwork import Hand, Round, lay_out, open_hand

SIZE: dict[str, Any] = {"viewport": PHONE}
ROOT = Path(__file__).parents[2]
# A host that only the browser believes in; it is called secure because of its name.
NOWHERE = "http://localhost:9"
PATIENCE_MS = 30_000
TAG = "BCDF2345GHJK"
SCAN = "/static/js/field/scan.js"
READER = "zxing-reader-3.1.4"
# Runs a scan on the page and keeps what it came to; the camera is a real track of a canvas.
START_SCAN = """async ([path, camera]) => {
  const made = document.createElement("canvas").captureStream(5);
  window.tracks = made.getTracks();
  window.tracks[0].getCapabilities = () => ({ torch: true });
  window.tracks[0].applyConstraints = async (wanted) => { window.wanted = wanted; };
  const ask = camera === "works"
    ? () => Promise.resolve(made)
    : () => Promise.reject(new DOMException("no", camera));
  const devices = camera ? { getUserMedia: ask } : undefined;
  Object.defineProperty(navigator, "mediaDevices", { configurable: true, value: devices });
  const host = document.querySelector("main");
  const { scan } = await import(path);
  scan(host).then((tag) => { window.came = [tag]; });
}"""
# A browser that reads codes by itself, and sees none.
OWN_READER = """() => {
  window.BarcodeDetector = class {
    static getSupportedFormats() { return Promise.resolve(["qr_code"]); }
    detect() { return Promise.resolve([]); }
  };
}"""
CAME = "window.came ?? null"
STATES = "window.tracks.map((track) => track.readyState)"


@pytest.fixture
def work(transactional_db: None) -> Round:
    return lay_out(1)


@pytest.fixture
def plain(browser: Browser) -> Iterator[Page]:
    """An empty page beside our static files, without a server."""
    context = browser.new_context(**SIZE)
    context.set_default_timeout(10_000)
    context.route(f"{NOWHERE}/**", answer_from_static)
    page = context.new_page()
    page.goto(f"{NOWHERE}/")
    yield page
    context.close()


def answer_from_static(route: Route) -> None:
    path = route.request.url.removeprefix(NOWHERE)
    if path == "/":
        route.fulfill(body="<!doctype html><title>Empty</title><main></main>", content_type="text/html")
    else:
        route.fulfill(path=ROOT / path.removeprefix("/"))


def label_film(file: Path, text: str) -> Path:
    """An uncompressed film (YUV4MPEG2) of a label on a table, pale, small and askew as a camera shows it."""
    kept = io.BytesIO()
    segno.make(text, error="q", micro=False).save(
        kept, kind="png", scale=4, border=4, dark="#333", light="#ccc"
    )
    code = Image.open(kept).convert("L").rotate(7, expand=True, fillcolor=0x99)
    table = Image.new("L", (640, 480), 0x99)
    table.paste(code, (230, 140))
    grey = bytes([128]) * (640 * 480 // 2)
    frame = b"FRAME\n" + table.tobytes() + grey
    file.write_bytes(b"YUV4MPEG2 W640 H480 F10:1 Ip A1:1 C420jpeg\n" + frame * 2)
    return file


@pytest.fixture
def seeing(browser: Browser, work: Round, live_server: LiveServer, tmp_path: Path) -> Iterator[Tablet]:
    """A tablet before the door: its camera sees the label."""
    film = label_film(tmp_path / "label.y4m", printed_address(work.doors[0].tag))
    opened = browser.browser_type.launch(
        executable_path=chromium(),
        args=[
            *FLAGS,
            "--use-fake-ui-for-media-stream",
            "--use-fake-device-for-media-stream",
            f"--use-file-for-fake-video-capture={film}",
        ],
    )
    page = opened.new_context(**SIZE).new_page()
    # Two browsers are at work, and this one makes its program for the camera first.
    page.set_default_timeout(PATIENCE_MS)
    yield Tablet(page, live_server.url)
    opened.close()


def scan_a_door(tablet: Tablet, door: Any) -> None:
    tablet.page.get_by_role("link", name="Find").click()
    tablet.page.locator("#acts").get_by_role("button", name="Scan").click()
    tablet.page.get_by_role("button", name="Use the camera").click()
    heading = tablet.page.get_by_role("heading", level=1)
    expect(heading).to_contain_text(door.number, timeout=PATIENCE_MS)


def test_the_camera_reads_a_label_and_the_door_opens_with_and_without_a_network(
    seeing: Tablet, work: Round
) -> None:
    asked: list[str] = []
    seeing.page.on("request", lambda request: asked.append(request.url))
    Hand(seeing).sign_in()
    expect(seeing.page.locator("#acts")).to_contain_text(work.doors[0].number, timeout=PATIENCE_MS)
    # This Chromium has no reader of its own, so the one from our host has to do it.
    assert seeing.page.evaluate("'BarcodeDetector' in window") is False
    scan_a_door(seeing, work.doors[0])
    assert any(url.endswith(f"{READER}.wasm") for url in asked)
    wait_until_kept(seeing.page)
    seeing.page.context.set_offline(True)
    seeing.page.reload()
    scan_a_door(seeing, work.doors[0])
    # Offline the app goes on asking for the server; nothing else complains, and nothing left the host.
    assert [each for each in seeing.complaints if "ERR_INTERNET_DISCONNECTED" not in each] == []


def wait_until_kept(page: Page) -> None:
    """Until the service worker holds the reader: it fetches that last."""
    for _ in range(100):
        if page.evaluate(f"caches.match('/static/vendor/{READER}.wasm').then(Boolean)"):
            return
        page.wait_for_timeout(50)
    pytest.fail("the service worker keeps no reader")


def test_what_a_code_says(plain: Page) -> None:
    told = {
        printed_address(TAG): TAG,
        "https://another.example/Q/bcdf2345ghjk": TAG,
        grouped(TAG).lower(): TAG,
        " bcdf 2345 ghjk ": TAG,
        "": None,
        "https://another.example/": None,
        "https://another.example/Q/BCDF2345GHJK?next=//evil.example": None,
        "https://another.example/Q/": None,
        "WIFI:S:Guests;T:WPA;P:secret;;": None,
        "BCDF2345GHJ0": None,
        "BCD": None,
        TAG * 2: None,
    }
    read = plain.evaluate(
        f"async (texts) => {{ const {{ tagOf }} = await import('{SCAN}'); return texts.map(tagOf); }}",
        list(told),
    )
    assert [each.get("tag") for each in read] == list(told.values())
    assert all(each.get("why", "x").endswith(".") == ("tag" not in each) for each in read)


@pytest.mark.parametrize(
    ("camera", "words"),
    [
        ("NotAllowedError", "The camera may not be used here."),
        ("NotFoundError", "This device has no camera."),
        ("NotReadableError", "The camera is in use elsewhere."),
        ("", "only where the address begins with https"),
    ],
)
def test_without_a_camera_words_say_why_and_the_code_is_typed(plain: Page, camera: str, words: str) -> None:
    plain.evaluate(START_SCAN, [SCAN, camera])
    plain.get_by_role("button", name="Use the camera").click()
    expect(plain.get_by_role("status")).to_contain_text(words)
    expect(plain.get_by_role("status")).to_contain_text("can always be typed")
    plain.get_by_label("Code, typed").fill("nonsense")
    plain.keyboard.press("Enter")
    expect(plain.get_by_role("status")).to_contain_text("is no code of ours")
    plain.get_by_label("Code, typed").fill(grouped(TAG).lower())
    plain.get_by_role("button", name="Take this code").click()
    assert plain.evaluate(CAME) == [TAG]


def type_the_code(page: Page) -> None:
    page.get_by_label("Code, typed").fill(TAG)
    page.keyboard.press("Enter")


def leave_the_page(page: Page) -> None:
    page.evaluate("window.dispatchEvent(new PageTransitionEvent('pagehide'))")


def put_aside(page: Page) -> None:
    page.evaluate(
        "Object.defineProperty(document, 'hidden', { configurable: true, value: true });"
        "document.dispatchEvent(new Event('visibilitychange'))"
    )


ENDS: dict[str, tuple[Callable[[Page], None], list[str | None] | None]] = {
    "typed": (type_the_code, [TAG]),
    "back": (lambda page: page.get_by_role("button", name="Go back").click(), [None]),
    "stopped": (lambda page: page.get_by_role("button", name="Stop the camera").click(), None),
    "put aside": (put_aside, None),
    "left": (leave_the_page, [None]),
    "torn down": (lambda page: page.evaluate("document.querySelector('main').replaceChildren()"), [None]),
}


@pytest.mark.parametrize("end", ENDS)
def test_the_camera_is_let_go_at_every_end(plain: Page, end: str) -> None:
    plain.evaluate(START_SCAN, [SCAN, "works"])
    plain.evaluate(OWN_READER)
    plain.get_by_role("button", name="Use the camera").click()
    expect(plain.get_by_role("button", name="Stop the camera")).to_be_visible()
    assert plain.evaluate(STATES) == ["live"]
    act, came = ENDS[end]
    act(plain)
    for _ in range(40):
        if plain.evaluate(STATES) == ["ended"]:
            break
        plain.wait_for_timeout(25)
    assert plain.evaluate(STATES) == ["ended"]
    assert plain.evaluate(CAME) == came


def test_the_camera_is_let_go_where_the_reader_does_not_come(plain: Page) -> None:
    plain.context.route(f"**/{READER}.*", lambda route: route.abort())
    plain.evaluate(START_SCAN, [SCAN, "works"])
    plain.get_by_role("button", name="Use the camera").click()
    expect(plain.get_by_role("status")).to_contain_text("What reads codes could not be loaded.")
    assert plain.evaluate(STATES) == ["ended"]
    expect(plain.get_by_role("button", name="Use the camera")).to_be_enabled()


def test_the_light_of_the_camera_goes_on_and_off(plain: Page) -> None:
    plain.evaluate(START_SCAN, [SCAN, "works"])
    plain.evaluate(OWN_READER)
    light = plain.get_by_role("button", name="Light")
    expect(light).to_be_hidden()
    plain.get_by_role("button", name="Use the camera").click()
    for is_on in (True, False):
        light.click()
        expect(light).to_have_attribute("aria-pressed", str(is_on).lower())
        # The constraint of the W3C's “MediaStream Image Capture”.
        assert plain.evaluate("window.wanted") == {"advanced": [{"torch": is_on}]}


def camera_file(times: int = 1) -> bytes:
    """As a phone makes it: turned by a remark, and with the place; `times` larger than 600 by 450."""
    noise = random.Random(7).randbytes(600 * 450 * 3)
    small = Image.frombytes("RGB", (600, 450), noise)
    large = small.resize((600 * times, 450 * times), Image.Resampling.NEAREST)
    exif = Image.Exif()
    # Exif 2.32: 0x0112 is the orientation (6: turn right), 0x8825 leads to the place.
    exif[0x0112] = 6
    exif.get_ifd(0x8825)[1] = "N"
    kept = io.BytesIO()
    large.save(kept, format="JPEG", quality=95, exif=exif)
    return kept.getvalue()


TAKE = """async ([path, bytes]) => {
  const { takePhoto } = await import(path);
  const content = Uint8Array.from(atob(bytes), (sign) => sign.charCodeAt(0));
  const made = await takePhoto(new File([content], "photo.jpg", { type: "image/jpeg" }));
  const read = new FileReader();
  await new Promise((done) => { read.onload = done; read.readAsDataURL(made.blob); });
  return { ...made, blob: read.result.split(",")[1] };
}"""


def test_a_photo_is_drawn_anew_small_and_without_the_place(plain: Page) -> None:
    taken = camera_file(4)
    assert len(taken) > 1_500_000
    made = plain.evaluate(TAKE, ["/static/js/field/photo.js", base64.b64encode(taken).decode()])
    content = base64.b64decode(made["blob"])
    picture = Image.open(io.BytesIO(content))
    assert len(content) <= 1_500_000
    assert (picture.format, picture.size) == ("JPEG", (1200, 1600))
    assert (made["width"], made["height"]) == picture.size
    assert not picture.getexif()
    assert set(picture.info) <= {
        "jfif",
        "jfif_version",
        "jfif_unit",
        "jfif_density",
        "adobe",
        "adobe_transform",
    }
    assert made["sha256"] == hashlib.sha256(content).hexdigest()
    frame = read_frame(content)
    assert (frame.width, frame.height) == picture.size


def test_a_photo_taken_offline_hangs_at_its_door_once_there_is_a_network(
    open_tablet: Callable[..., Tablet], work: Round, tmp_path: Path
) -> None:
    file = tmp_path / "photo.jpg"
    file.write_bytes(camera_file())
    hand, door = open_hand(open_tablet), work.doors[0]
    hand.context.set_offline(True)
    hand.open(f"#/remark/{door.pk}")
    hand.page.locator("[data-text-field]").fill("The latch drags")
    hand.page.locator("[data-photo]").set_input_files(file)
    expect(hand.page.locator("[data-photo-state]")).to_contain_text("Ready")
    hand.page.get_by_role("button", name="Keep it").click()
    hand.sees("not sent")
    hand.context.set_offline(False)
    hand.send()
    hand.sees("all sent")
    hand.tablet.go(reverse("cores:door", args=[door.pk]))
    hand.page.get_by_role("link", name="1 photo").click()
    picture = hand.page.get_by_role("link", name="The latch drags").locator("img")
    expect(picture).to_have_js_property("naturalHeight", 600)
    kept = FieldPhoto.objects.get()
    assert kept.door == door
    assert not Image.open(io.BytesIO(vault.unseal_bytes(kept, "content"))).getexif()


def test_no_picture_is_refused_in_words(plain: Page) -> None:
    with pytest.raises(Exception, match="no picture that the browser can open"):
        plain.evaluate(TAKE, ["/static/js/field/photo.js", base64.b64encode(b"words").decode()])


def test_what_a_browser_writes_beside_a_picture_is_cut_out(plain: Page) -> None:
    kept, exif = io.BytesIO(), Image.Exif()
    exif[0x0112] = 1
    Image.new("RGB", (20, 20), "red").save(kept, format="JPEG", comment=b"by Ann", exif=exif)
    assert b"Exif" in kept.getvalue()
    cut = plain.evaluate(
        """async (bytes) => {
          const { withoutRemarks } = await import("/static/js/field/photo.js");
          const parts = withoutRemarks(Uint8Array.from(atob(bytes), (sign) => sign.charCodeAt(0)));
          return [...new Uint8Array(await new Blob(parts).arrayBuffer())];
        }""",
        base64.b64encode(kept.getvalue()).decode(),
    )
    content = bytes(cut)
    assert b"Ann" not in content
    assert b"Exif" not in content
    assert read_frame(content).width == 20
    assert Image.open(io.BytesIO(content)).convert("RGB").getpixel((9, 9)) == Image.open(kept).convert(
        "RGB"
    ).getpixel((9, 9))
