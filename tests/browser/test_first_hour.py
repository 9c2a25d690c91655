"""The first hour: from an empty installation to a proven estate, through the pages alone.

Nothing is made behind the pages but the first administrator, by the command of README.md. What each key must
do at the bench is worked out here from the symbols (a key turns the cores below it, the control key takes it
out), and the codes of the second factor by RFC 6238: neither asks the product.
"""

import base64
import hashlib
import hmac
import re
import struct
from collections.abc import Callable
from time import time
from unittest.mock import patch
from urllib.parse import parse_qs, urlsplit

import pytest
from django.core.management import call_command
from playwright.sync_api import Locator, expect
from pytest_django import Settings

from keyctl.cores.models import Core
from keyctl.jobs.worker import take_one
from keyctl.keys.models import Handover
from keyctl.proofs.models import Finding, Proof
from tests.browser.conftest import Tablet
from tests.browser.pictures import keep

PASSWORD = "nine quiet stairs 71"
DOORS = """Building,Floor,Level,Number,Room,Class,Egress,Fire-rated,Locks
LIB,Ground floor,0,001,Main entrance,restricted,yes,no,rim
LIB,Ground floor,0,002,Reading room,ordinary,no,no,mortise
LIB,Ground floor,0,003,Book store,ordinary,no,yes,mortise
LIB,Ground floor,0,004,Office,ordinary,no,no,mortise
LIB,First floor,1,101,Map room,ordinary,no,no,mortise
LIB,First floor,1,102,Archive,restricted,no,yes,mortise
LAB,Ground floor,0,001,Main entrance,restricted,yes,no,rim
LAB,Ground floor,0,002,Workshop,ordinary,no,no,mortise
LAB,Ground floor,0,003,Solvent store,critical,no,yes,mortise
LAB,Ground floor,0,004,Plant room,ordinary,no,no,mortise
LAB,First floor,1,101,Laboratory,restricted,no,no,mortise
LAB,First floor,1,102,Weighing room,ordinary,no,no,mortise
"""
KEYS = [f"{house}{number}" for house in ("AA", "AB") for number in range(1, 6)]
CORES = "\n".join(
    [
        "Key system,Keyed to,Core format,Where it is,Building,Floor,Door number",
        *(f"TH,{key},,bench,,," for key in KEYS),
        # What somebody found in the door of the office, long before us.
        ",,small-a2-7,door,LIB,Ground floor,004",
        "",
    ]
)
OFFICE = "LIB 004"
TAG = re.compile(r"\b[A-Z0-9]{4}(?:-[A-Z0-9]{4}){2}\b")


def code_of(secret: str) -> str:
    """What an app for codes shows now: RFC 6238 with the defaults of RFC 4226."""
    key = base64.b32decode(secret + "=" * (-len(secret) % 8))
    digest = hmac.digest(key, struct.pack(">Q", int(time()) // 30), hashlib.sha1)
    start = digest[-1] & 15
    number = struct.unpack(">I", digest[start : start + 4])[0] & 0x7FFFFFFF
    return f"{number % 1_000_000:06d}"


class Person:
    """Somebody at a tablet of their own, who knows only what stands on the page."""

    def __init__(self, tablet: Tablet, name: str) -> None:
        self.tablet, self.page, self.name = tablet, tablet.page, name
        self.main = tablet.page.locator("main")

    def press(self, name: str | re.Pattern[str]) -> None:
        with self.page.expect_navigation():
            self.main.get_by_role("button", name=name, exact=isinstance(name, str)).first.click()

    def follow(self, name: str | re.Pattern[str], within: Locator | None = None) -> None:
        place = within or self.main
        with self.page.expect_navigation():
            place.get_by_role("link", name=name, exact=isinstance(name, str)).first.click()

    def section(self, name: str) -> None:
        self.follow(name, self.page.get_by_role("navigation", name="Sections"))

    def fill(self, label: str, text: str) -> None:
        self.main.get_by_label(label).first.fill(text)

    def see(self, text: str | re.Pattern[str]) -> None:
        expect(self.main.get_by_text(text).first).to_be_visible()

    def sign_in(self) -> None:
        self.tablet.go("/account/sign-in/")
        self.fill("Username", self.name)
        self.fill("Password", PASSWORD)
        self.press("Sign in")

    def begin_by(self, code: str) -> None:
        """The first sign-in, by the code that the administrator handed over."""
        self.tablet.go("/account/sign-in/")
        self.follow("I have a code")
        self.fill("Username", self.name)
        self.fill("The code", code)
        self.fill("Your new password", PASSWORD)
        self.fill("The new one again", PASSWORD)
        self.press("Set the new password")
        self.sign_in()

    def add_the_app(self) -> None:
        """Whoever is trusted with secrets gets no further without a second factor."""
        self.see("until then nothing else is open to you")
        self.follow("Add an app")
        address = self.page.get_by_role("link", name="open it here").get_attribute("href") or ""
        [secret] = parse_qs(urlsplit(address).query)["secret"]
        self.fill("The code that the app shows now", code_of(secret))
        self.press("Add the app")
        self.press("Make and show them")
        expect(self.page.locator("main li.code, main .secret-value, main code")).not_to_have_count(0)

    def confirm(self) -> None:
        with self.page.expect_navigation():
            self.page.get_by_role("dialog").get_by_role("button").last.click()

    def wait_for_the_work(self) -> None:
        """The worker beside the server does what waits; then the page of the job says so."""
        assert take_one()
        while take_one():
            pass
        self.page.reload()
        expect(self.page.get_by_text("Done", exact=True)).to_be_visible()

    def bring_in(self, kind: str, content: str) -> None:
        self.section("Estate")
        self.section("Imports")
        self.follow("Bring a file in")
        self.follow(kind)
        file = {"name": f"{kind.lower()}.csv", "mimeType": "text/csv", "buffer": content.encode()}
        self.page.locator("input[type=file]").set_input_files(file)  # type: ignore[arg-type]
        self.press("Bring it in")
        self.press("Try it")
        self.wait_for_the_work()
        self.follow("Look at the result")
        self.see("Nothing is written yet")

    def take_it(self) -> None:
        self.press("Take it")
        self.wait_for_the_work()


@pytest.fixture
def people(
    transactional_db: None, settings: Settings, open_tablet: Callable[..., Tablet]
) -> Callable[[str], Person]:
    """As it is installed: nobody is there but who was named on the command line."""
    settings.SECOND_FACTOR = "forced"
    facts = {"name": "Anna Adams", "site": "NORTH", "site_name": "North site"}
    with patch("keyctl.places.management.commands.add_administrator.getpass", return_value=PASSWORD):
        call_command("add_administrator", "anna", **facts)
    return lambda name: Person(open_tablet(), name)


def test_an_empty_installation_is_a_proven_estate_within_an_hour(people: Callable[[str], Person]) -> None:
    anna, lou, dee = people("anna"), people("lou"), people("dee")
    anna.sign_in()
    anna.add_the_app()
    codes = give_roles(anna)
    bring_doors(anna)

    lou.begin_by(codes["lou"])
    lou.add_the_app()
    design_a_system(lou)
    bring_cores(lou)
    pin_them(lou)
    try_them_at_the_bench(lou)
    swap_one(lou)

    dee.begin_by(codes["dee"])
    open_a_cabinet(dee)
    cut_two_keys(lou)
    hand_one_out(dee)
    prove_the_estate(lou)
    agrees_with_the_symbols()
    assert [each.tablet.complaints for each in (anna, lou, dee)] == [[], [], []]


def give_roles(anna: Person) -> dict[str, str]:
    anna.section("Places")
    anna.follow("People and roles")
    codes = {}
    for username, name, role in (("lou", "Lou Lowe", "Locksmith"), ("dee", "Dee Dale", "Key desk")):
        added = anna.page.locator("form", has=anna.page.get_by_role("button", name="Add the person"))
        added.get_by_label("Sign-in name").fill(username)
        added.get_by_label("Name", exact=True).fill(name)
        added.get_by_label("Role").select_option(label=role)
        anna.press("Add the person")
        codes[username] = anna.page.locator(".secret-value").inner_text()
    anna.section("Places")
    anna.follow("People and roles")
    keep(anna.tablet, "hour-roles")
    return codes


def bring_doors(anna: Person) -> None:
    anna.bring_in("Doors", DOORS)
    keep(anna.tablet, "hour-dry-run")
    anna.take_it()
    anna.section("Estate")
    anna.see(OFFICE)


def design_a_system(lou: Person) -> None:
    lou.section("Systems")
    lou.follow("Design a key system")
    for label, text in (("Name", "Two houses"), ("Code", "TH"), ("Keyway", "W1")):
        lou.fill(label, text)
    lou.page.get_by_label("Core format").select_option(label="Small-format core, A2 system, 7 positions")
    lou.page.get_by_role("group", name="Used at").get_by_role("checkbox").check()
    lou.fill("Level 1: keys", "2")
    lou.fill("Level 2: keys", "16")
    lou.press("Work out")
    lou.see("Counted exactly, before anything is made")
    keep(lou.tablet, "hour-draft")
    lou.press("Make the keys")
    lou.wait_for_the_work()


def bring_cores(lou: Person) -> None:
    lou.bring_in("Cores", CORES)
    lou.take_it()


def pin_them(lou: Person) -> None:
    lou.section("Work orders")
    lou.follow("Pin cores")
    lou.fill("What is it for?", "The first ten cores")
    boxes = lou.page.get_by_role("checkbox")
    expect(boxes).to_have_count(len(KEYS))
    for box in boxes.all():
        box.check()
    lou.press("Open the order")
    lou.page.get_by_role("button", name="Pin all lines").click()
    lou.confirm()
    lou.wait_for_the_work()


def try_them_at_the_bench(lou: Person) -> None:
    lou.follow("Look at the result")
    lou.follow("At the bench")
    lou.follow(re.compile("^Next core"))
    look_at_its_stacks(lou)
    for _ in KEYS:
        # Each leads on to the next one by itself.
        tag = TAG.search(lou.page.get_by_role("heading", level=1).inner_text())
        assert tag is not None
        try_one(lou, tag[0])
    lou.section("Work orders")
    lou.see("10 of 10")


def look_at_its_stacks(lou: Person) -> None:
    lou.press("Show its stacks")
    expect(lou.page.get_by_role("table", name="Pins, from the key upwards")).to_be_visible()


def try_one(lou: Person, tag: str) -> None:
    said = lou.page.locator("main").get_by_text(re.compile("^Keyed to")).inner_text()
    own = said.removeprefix("Keyed to ").strip()
    for group in lou.page.locator("main fieldset").all():
        legend = group.locator("legend").inner_text()
        group.get_by_label(what_it_does(legend.split(",")[0], legend, own)).check()
    lou.fill("Tag on the core, once more", tag)
    lou.press("Keep what they did")
    lou.see("is tried and may leave the bench")


def what_it_does(key: str, legend: str, own: str) -> str:
    """By the symbols: AA stands above AA1, and A above all."""
    if "control" in legend:
        return "Takes the core out"
    is_above = own.rstrip("0123456789").startswith(key)
    return "Turns the core" if key == own or is_above else "Does nothing"


def swap_one(lou: Person) -> None:
    lou.section("Estate")
    lou.fill("Find a door or a core", OFFICE)
    lou.press("Find")
    lou.follow(OFFICE)
    lou.follow(re.compile("^Swap"))
    lou.fill("What is it for?", "Our own core into the office")
    lou.page.get_by_role("checkbox").first.check()
    lou.press("Go to the swap")
    lou.fill("Tag on the core", Core.objects.get(keyed_to__symbol="AA1").tag)
    lou.press("This core goes in")
    lou.page.get_by_label("On the bench, to be pinned again").check()
    for box in lou.page.get_by_role("checkbox").all():
        box.check()
    keep(lou.tablet, "hour-swap")
    lou.press("Finish the swap")
    lou.see("Every check was good")


def open_a_cabinet(dee: Person) -> None:
    dee.section("Keys")
    dee.section("Cabinets")
    dee.follow("New cabinet at North site")
    dee.fill("What stands on it", "Key cupboard")
    dee.press("Open the cabinet")


def cut_two_keys(lou: Person) -> None:
    lou.section("Work orders")
    lou.follow("Cut keys")
    lou.fill("What is it for?", "Keys of the office")
    lou.fill("Copies of AA1", "2")
    lou.press("Open the order")
    lou.page.get_by_role("button", name=re.compile("^Cut and put in the cabinet")).click()
    lou.confirm()
    lou.see("1 of 1 lines done")


def hand_one_out(dee: Person) -> None:
    dee.section("Keys")
    dee.follow("New holder at North site")
    dee.fill("Name", "Hal Hill")
    dee.press("Register the holder")
    dee.section("Keys")
    dee.follow(re.compile("^In cabinets"))
    serial = dee.page.locator("main table tbody tr").first.locator(".code").first.inner_text()
    dee.section("Desk")
    for scan in ("hal hill", serial):
        dee.page.keyboard.type(scan)
        dee.page.keyboard.press("Enter")
    expect(dee.page.get_by_text("1 key on the list")).to_be_visible()
    dee.page.keyboard.press("Enter")
    dee.page.keyboard.type("Hal Hill")
    keep(dee.tablet, "hour-desk")
    dee.page.keyboard.press("Enter")
    expect(dee.page.get_by_text("Handed out, no. 1")).to_be_visible()
    act = Handover.objects.get()
    assert (act.signed_as, act.lines_out.count()) == ("Hal Hill", 1)


def prove_the_estate(lou: Person) -> None:
    lou.section("Systems")
    lou.section("Proofs")
    lou.press("Prove now")
    lou.wait_for_the_work()
    lou.follow("Look at the result")
    keep(lou.tablet, "hour-proof")
    assert Proof.objects.get().keys > 0
    assert not Finding.objects.exists()


def agrees_with_the_symbols() -> None:
    """Every key against every one of the ten cores, by nothing but how the keys are called."""
    for own in KEYS:
        core = Core.objects.get(keyed_to__symbol=own)
        turning = set(core.turns.filter(operates=True).values_list("symbol__symbol", flat=True))
        assert turning == {"A", own[:2], own}
        assert set(core.turns.filter(withdraws=True).values_list("symbol__symbol", flat=True)) == {"CTR"}
