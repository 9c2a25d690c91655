"""A blind count with a scanner finds a missing and a misplaced key; both end, and the evidence says so."""

import io

from django.db.models import QuerySet
from playwright.sync_api import Page, expect
from pypdf import PdfReader

from keyctl.counts.models import Count, CountCase, EvidenceReport
from keyctl.jobs.models import JobFile
from keyctl.jobs.services import open_file, run_job
from keyctl.keys.models import Cabinet, KeyCopy
from keyctl.places.models import Door, Site
from keyctl.systems.models import KeySymbol
from tests.browser.conftest import Tablet


def scan(page: Page, serials: list[str]) -> None:
    """As a scanner does: signs and Enter, without waiting for any answer."""
    for serial in serials:
        page.keyboard.type(serial)
        page.keyboard.press("Enter")


def explain(page: Page, way: str, note: str) -> None:
    page.get_by_label(way).check()
    page.get_by_label("What happened").fill(note)
    page.get_by_role("button", name="Keep the explanation").click()
    expect(page.get_by_text("Explained, not closed")).to_be_visible()
    page.get_by_role("button", name="Close the case").click()
    expect(page.get_by_text("The case is closed.")).to_be_visible()


def light_keys(cabinet: Cabinet) -> QuerySet[KeyCopy]:
    """Keys whose case may be closed by whoever counted: of one door, and no critical one."""
    keys = KeyCopy.objects.filter(cabinet=cabinet, symbol__kind=KeySymbol.Kind.CHANGE)
    return keys.exclude(symbol__turns__core__housing__door__door_class=Door.DoorClass.CRITICAL)


def test_from_a_blind_count_to_the_evidence(estate: None, tablet: Tablet) -> None:
    site = Site.objects.order_by("code")[0]
    cabinet, other = site.cabinets.get(name="Key room"), site.cabinets.get(name="Gate lodge")
    missing, stray = light_keys(cabinet)[0], light_keys(other)[0]
    seen = KeyCopy.objects.filter(cabinet=cabinet).exclude(pk=missing.pk)

    tablet.sign_in("locksmith")
    page = tablet.page
    tablet.go("/counts/")
    page.get_by_role("link", name="Count Key room").click()
    page.get_by_role("button", name="Begin to count").click()
    page.wait_for_url("**/scan/")
    scan(page, [*(copy.serial for copy in seen), str(stray), seen[0].serial])
    expect(page.locator("#scanned dd")).to_have_text(str(len(seen) + 1))
    expect(page.locator("main")).not_to_contain_text(str(missing))

    page.get_by_role("link", name="Finish").click()
    page.get_by_role("button", name="Close the count").click()
    page.locator("dialog").get_by_role("button", name="Close the count").click()
    expect(page.get_by_text("Closed. Differences: 2.")).to_be_visible()
    count = Count.objects.get(cabinet=cabinet, state="closed", sighted_count=len(seen))
    cases = {case.kind: case for case in CountCase.objects.filter(count=count)}
    assert {kind: case.serial for kind, case in cases.items()} == {
        "missing": missing.serial,
        "misplaced": stray.serial,
    }
    for kind, way in [("missing", "It was there and was overlooked"), ("misplaced", "It was put back")]:
        tablet.go(f"/counts/cases/{cases[kind].pk}/")
        explain(page, way, "Looked for it with the desk.")
    tablet.sign_out()

    tablet.sign_in("auditor")
    tablet.go(f"/prints/sites/{site.pk}/evidence/")
    page.get_by_role("button", name="Make the report").click()
    page.wait_for_url("**/jobs/**")
    report = EvidenceReport.objects.get()
    assert report.job is not None
    run_job(report.job.pk)
    file = JobFile.objects.get(job=report.job)
    pages = PdfReader(io.BytesIO(open_file(actor=report.actor, file=file))).pages
    text = " ".join(" ".join(each.extract_text() for each in pages).split())
    for words in (str(missing), str(stray), "It was put back", "Demo locksmith", "The register added up"):
        assert words in text
    assert tablet.complaints == []
