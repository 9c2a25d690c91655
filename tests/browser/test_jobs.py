"""Long work from a page: started, watched, and its file taken, with a worker beside the server."""

import io

import pytest
from openpyxl import load_workbook
from playwright.sync_api import expect

from keyctl.audit.models import Event
from keyctl.cores.waiting import keys_without_core
from keyctl.jobs.worker import take_one
from keyctl.systems.models import KeySystem
from keyctl.systems.services import bitting_of
from tests.browser.conftest import Tablet
from tests.permits import grant_what_waits


@pytest.fixture
def system(estate: None) -> KeySystem:
    """One with change keys that no core is keyed to."""
    return next(each for each in KeySystem.objects.order_by("code") if keys_without_core(each).count() > 3)


def do_what_waits() -> None:
    """As a worker beside the server would; the invented estate may have left jobs of its own."""
    while take_one():
        pass


def test_cores_are_registered_and_pinned_while_the_page_looks_on(tablet: Tablet, system: KeySystem) -> None:
    before = system.cores.count()
    tablet.sign_in("locksmith")
    tablet.go(f"/systems/{system.pk}/")
    tablet.page.get_by_role("link", name="Cores for its keys").click()
    tablet.page.get_by_label("How many cores?").fill("3")
    tablet.page.get_by_role("button", name="Register and pin").click()
    expect(tablet.page.get_by_text("Waiting", exact=True)).to_be_visible()
    do_what_waits()
    # Nobody touches the page: it asks for itself.
    expect(tablet.page.get_by_text(f"Registered and pinned 3 cores of {system.code}.")).to_be_visible()
    assert system.cores.count() == before + 3
    assert tablet.complaints == []


def test_a_job_is_stopped_though_the_page_asks_for_itself_meanwhile(
    tablet: Tablet, system: KeySystem
) -> None:
    tablet.sign_in("locksmith")
    tablet.go(f"/systems/{system.pk}/cores/")
    tablet.page.get_by_label("How many cores?").fill("3")
    tablet.page.get_by_role("button", name="Register and pin").click()
    tablet.page.get_by_role("button", name="Stop").click()
    tablet.page.wait_for_timeout(2500)
    tablet.page.get_by_role("button", name="Stop it").click()
    tablet.page.get_by_role("button", name="Go on where it stopped").click()
    do_what_waits()
    expect(tablet.page.get_by_text(f"Registered and pinned 3 cores of {system.code}.")).to_be_visible()
    assert tablet.complaints == []


def test_a_bitting_list_is_made_and_taken_on_a_recorded_click(tablet: Tablet, system: KeySystem) -> None:
    tablet.sign_in("officer")
    tablet.go(f"/prints/systems/{system.pk}/")
    form = tablet.page.locator("form:has(input[value='bitting-list'])")
    form.get_by_label("Workbook (XLSX)").check()
    form.get_by_label("Why do you need it?").fill("Deposit in the safe")
    form.get_by_role("button").click()
    expect(tablet.page.get_by_text("Wait for a security officer")).to_be_visible()
    grant_what_waits()
    tablet.page.reload()
    tablet.page.get_by_role("button", name="Have it made").click()
    do_what_waits()
    with tablet.page.expect_download() as download:
        tablet.page.get_by_role("button", name="Download").click()
    rows = load_workbook(io.BytesIO(download.value.path().read_bytes()))["Keys"].iter_rows(
        min_row=2, values_only=True
    )
    assert {row[2]: row[4] for row in rows} == {key.symbol: bitting_of(key) for key in system.symbols.all()}
    assert Event.objects.filter(verb="job.file_downloaded").count() == 1
    assert tablet.complaints == []
