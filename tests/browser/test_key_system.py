"""A key system from an empty form to its printed lists: designed, made, cored, proven, extended, exported."""

import io
import re

import pytest
from openpyxl import load_workbook
from playwright.sync_api import Locator, expect
from pypdf import PdfReader

from keyctl.audit.models import Event
from keyctl.cores.models import Core
from keyctl.jobs.worker import take_one
from keyctl.proofs.models import Proof
from keyctl.systems.models import KeySymbol, KeySystem
from keyctl.systems.services import bitting_of
from tests.browser.conftest import Tablet
from tests.cast import gather
from tests.permits import grant_what_waits

NEEDS = (
    4,
    4,
    10,
)  # masters, masters below each, changes below each of those: six fewer than there is room for
CHANGES = 4 * 4 * 10
CORES = 12


@pytest.fixture
def designed(tablet: Tablet, transactional_db: None) -> KeySystem:
    """Designed and made on the pages of an empty installation, by a locksmith who then goes on."""
    gather()
    tablet.sign_in("locksmith")
    tablet.go("/systems/")
    tablet.page.get_by_role("link", name="Design a key system").first.click()
    tablet.page.get_by_label("Name").fill("Library of maps")
    tablet.page.get_by_label("Code").fill("MAPS")
    tablet.page.get_by_label("Core format").select_option("small-a2-7")
    tablet.page.get_by_label("Keyway").fill("M1")
    tablet.page.get_by_role("group", name="Used at").get_by_role("checkbox").first.check()
    for level, need in enumerate(NEEDS, 1):
        tablet.page.get_by_label(f"Level {level}: keys").fill(str(need))
    tablet.page.get_by_role("button", name="Work out").click()
    expect(tablet.page.get_by_role("table")).to_contain_text(f"{CHANGES}")
    assert not KeySystem.objects.filter(code="MAPS").exists()
    tablet.page.get_by_role("button", name="Make the keys").click()
    do_the_job(tablet)
    return KeySystem.objects.get(code="MAPS")


def do_the_job(tablet: Tablet) -> None:
    """Nobody touches the page: it asks for itself, and says when the work is done."""
    expect(tablet.page.get_by_text("Waiting", exact=True)).to_be_visible()
    work_off()
    expect(tablet.page.get_by_text("Done", exact=True)).to_be_visible()


def work_off() -> None:
    assert take_one()
    while take_one():
        pass


def core_the_changes(tablet: Tablet, system: KeySystem) -> None:
    tablet.go(f"/systems/{system.pk}/")
    tablet.page.get_by_role("link", name="Cores for its keys").click()
    tablet.page.get_by_label("How many cores?").fill(str(CORES))
    tablet.page.get_by_role("button", name="Register and pin").click()
    do_the_job(tablet)


def listed(tablet: Tablet, system: KeySystem, kind: str, form: str) -> bytes:
    """Ask for a list as a file and take it."""
    tablet.go(f"/systems/{system.pk}/")
    tablet.page.get_by_role("link", name="Bitting list and schedule").click()
    box: Locator = tablet.page.locator(f"form:has(input[value='{kind}'])")
    box.get_by_label(re.compile(form)).check()
    box.get_by_label("Why do you need it?").fill("Binder of the key office")
    box.get_by_role("button").click()
    if kind == "bitting-list":
        expect(tablet.page.get_by_text("Wait for a security officer")).to_be_visible()
        grant_what_waits()
        tablet.page.reload()
        tablet.page.get_by_role("button", name="Have it made").click()
    do_the_job(tablet)
    with tablet.page.expect_download() as download:
        tablet.page.get_by_role("button", name="Download").click()
    return download.value.path().read_bytes()


def cells_of(workbook: bytes) -> set[str]:
    sheets = load_workbook(io.BytesIO(workbook)).worksheets
    return {
        str(cell) for sheet in sheets for row in sheet.iter_rows(values_only=True) for cell in row if cell
    }


def test_a_system_is_designed_made_cored_and_proven_from_the_pages(
    tablet: Tablet, designed: KeySystem
) -> None:
    kinds = designed.symbols.values_list("kind", flat=True)
    assert sorted(kinds).count(KeySymbol.Kind.CHANGE) == CHANGES
    core_the_changes(tablet, designed)
    assert Core.objects.filter(system=designed, pinning__isnull=False).count() == CORES
    tablet.go("/proofs/")
    tablet.page.get_by_label("What shall be proved?").select_option(label="MAPS, Library of maps")
    tablet.page.get_by_role("button", name="Prove now").click()
    tablet.page.wait_for_url("**/jobs/**")
    work_off()
    proof = Proof.objects.get(system=designed)
    tablet.go(f"/proofs/{proof.pk}/")
    assert proof.findings.count() == 0
    # The change key of each, and three masters above; the control key takes each out.
    assert list(proof.figures.values()) == [[CORES, CORES * 4, CORES]]
    assert tablet.complaints == []


def test_its_lists_hold_every_key_and_each_export_is_in_the_log(tablet: Tablet, designed: KeySystem) -> None:
    core_the_changes(tablet, designed)
    bittings = {key.symbol: bitting_of(key) for key in designed.symbols.all()}
    rows = load_workbook(io.BytesIO(listed(tablet, designed, "bitting-list", "XLSX")))["Keys"].iter_rows(
        min_row=2, values_only=True
    )
    assert {row[2]: row[4] for row in rows} == bittings
    printed = PdfReader(io.BytesIO(listed(tablet, designed, "bitting-list", "PDF")))
    words = {word for page in printed.pages for word in page.extract_text().split()}
    assert set(bittings.values()) <= words
    cells = cells_of(listed(tablet, designed, "keying-schedule", "XLSX"))
    assert {str(core) for core in Core.objects.filter(system=designed)} <= cells
    assert not set(bittings.values()) & cells
    assert listed(tablet, designed, "keying-schedule", "PDF").startswith(b"%PDF-")
    assert Event.objects.filter(verb="job.file_downloaded").count() == 4
    told = " ".join(f"{each.sentence} {each.detail}" for each in Event.objects.all())
    assert not any(bitting in told for bitting in bittings.values())
    assert tablet.complaints == []


def test_the_next_free_change_is_made_below_a_master(tablet: Tablet, designed: KeySystem) -> None:
    master = KeySymbol.objects.get(system=designed, symbol="AA")
    below = master.children.count()
    tablet.go(f"/systems/keys/{master.pk}/extend/")
    tablet.page.get_by_role("button", name="Look at it first").click()
    tablet.page.get_by_role("button", name="Make 1 key").click()
    expect(tablet.page.get_by_text(f"AA{below + 1}").first).to_be_visible()
    assert master.children.count() == below + 1
    assert tablet.complaints == []
