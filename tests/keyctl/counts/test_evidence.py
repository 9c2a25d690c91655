"""The evidence report: its figures against the rows themselves, its words as read back from the PDF."""

import io
from datetime import timedelta
from typing import Any

import pytest
from django.core.exceptions import PermissionDenied
from django.db import models
from django.test import Client
from django.urls import reverse
from django.utils import timezone
from pypdf import PdfReader

from keyctl.audit.selectors import history_of
from keyctl.counts import services
from keyctl.counts.models import Count, CountCase, EvidenceReport
from keyctl.counts.selectors.evidence import EvidenceSheet, evidence_sheet
from keyctl.jobs.models import Job
from keyctl.jobs.services import open_file
from keyctl.keys import services as keys
from keyctl.lib.errors import Refused
from keyctl.prints.reports.evidence import evidence_pdf, start_evidence
from tests.jobs import finish
from tests.keyctl.counts.countroom import CountRoom
from tests.keyctl.keys.keyroom import allowed, answers
from tests.keyctl.prints.reading import faults_of

TODAY = timezone.localdate


def moved(thing: models.Model, **facts: Any) -> None:
    """Rows as if they had been written at another time."""
    models.QuerySet(type(thing)).filter(pk=thing.pk).update(**facts)


def report(room: CountRoom, days: int = 365) -> EvidenceReport:
    facts = {"from_on": TODAY() - timedelta(days=days), "until_on": TODAY(), "number": "BCDF23456789"}
    return EvidenceReport.objects.create(site=room.site, actor=room.cast.auditor, **facts)


def counted(room: CountRoom, *, due: int, ended: int) -> Count:
    """A closed count that was due and ended so many days ago."""
    count = room.close(room.begin())
    at = timezone.now() - timedelta(days=ended)
    moved(count, due_on=TODAY() - timedelta(days=due), ended_at=at, started_at=at)
    return count


def text_of(pdf: bytes) -> str:
    return " ".join(" ".join(page.extract_text() for page in PdfReader(io.BytesIO(pdf)).pages).split())


def test_due_done_and_late_are_the_rows_themselves(room: CountRoom) -> None:
    in_time, late = counted(room, due=100, ended=101), counted(room, due=60, ended=50)
    outside = counted(room, due=800, ended=801)
    given_up = services.cancel_count(actor=room.desk, count=room.begin(), note="Fire alarm")
    waiting = Count.objects.create(
        site=room.site, number=9, scope="cabinet", cabinet=room.other, reason="rule", due_on=TODAY()
    )
    sheet = evidence_sheet(report(room))
    lines = {line.number: line for line in sheet.counts}
    assert set(lines) == {each.number for each in (in_time, late, given_up, waiting)}
    assert outside.number not in lines
    assert [lines[each.number].days_late for each in (in_time, late)] == [0, 10]
    assert (sheet.was_due, sheet.in_time, sheet.late, sheet.not_done) == (3, 1, 1, 1)
    assert lines[given_up.number].outcome == "Given up: Fire alarm"


def test_what_a_rule_asked_for_and_nobody_opened_is_told(room: CountRoom) -> None:
    room.rule(months=1, made_at=timezone.now() - timedelta(days=90))
    sheet = evidence_sheet(report(room))
    assert {line.what for line in sheet.counts} == {str(room.cabinet), str(room.other)}
    assert {line.is_done for line in sheet.counts} == {False}
    assert all(line.days_late and line.days_late > 50 for line in sheet.counts)


def test_every_version_in_force_in_the_period_stands_there_with_its_source(room: CountRoom) -> None:
    now = timezone.now()
    for source, days in [("Before", 900), ("At the beginning", 500), ("Since", 30)]:
        room.rule(source=source, made_at=now - timedelta(days=days))
    sheet = evidence_sheet(report(room))
    assert [rule.source for rule in sheet.rules] == ["At the beginning", "Since"]


def test_an_ended_rule_is_told_for_the_time_it_was_in_force(room: CountRoom) -> None:
    room.rule(source="Held once", made_at=timezone.now() - timedelta(days=300))
    services.end_rule(actor=room.cast.officer, site=room.site, subject="cabinets")
    assert [rule.source for rule in evidence_sheet(report(room)).rules] == ["Held once"]


def test_a_difference_tells_how_it_ended_as_of_the_report(room: CountRoom) -> None:
    case = room.missing(room.master)
    services.explain_case(actor=room.desk, case=case, how="overlooked", note="Behind the shelf")
    asked = report(room)
    services.close_case(actor=room.cast.officer, case=case)
    (line,) = evidence_sheet(asked).differences
    assert (line.state, line.how) == ("Explained", "It was there and was overlooked: Behind the shelf")
    assert line.closed == ""
    (later,) = evidence_sheet(EvidenceReport(**later_than(asked))).differences
    assert (later.state, later.closed.split(",")[0]) == ("Closed", "Officer")


def later_than(asked: EvidenceReport) -> dict[str, Any]:
    facts = {"site": asked.site, "actor": asked.actor, "from_on": asked.from_on, "until_on": asked.until_on}
    return {**facts, "asked_at": timezone.now() + timedelta(seconds=1)}


def a_full_report(room: CountRoom) -> EvidenceSheet:
    room.rule(source="House rule 7", needs_witness=True, on_new_custodian=True)
    case = room_case(room)
    services.explain_case(actor=room.desk, case=case, how="overlooked", note="Behind the shelf")
    keys.change_custodian(actor=room.cast.administrator, cabinet=room.cabinet, to=room.cast.manager)
    return evidence_sheet(report(room))


def room_case(room: CountRoom) -> CountCase:
    room.stock(1, room.master)
    count = room.begin(witness=room.cast.auditor)
    services.confirm_witness(actor=room.cast.auditor, count=count)
    room.close(count)
    return CountCase.objects.get(count=count)


def test_the_pdf_says_what_the_sheet_says_and_no_symbol(room: CountRoom) -> None:
    sheet = a_full_report(room)
    text = text_of(evidence_pdf(sheet))
    for words in (
        "House rule 7",
        "Behind the shelf",
        "witness: Auditor",
        sheet.number,
        "The register added up",
    ):
        assert words in text
    assert sheet.differences[0].serial in text.replace(" ", "") or sheet.differences[0].serial in text
    assert f" {room.master} " not in text
    assert "Page 1 of" in text


def test_the_same_report_is_the_same_file(room: CountRoom) -> None:
    sheet = a_full_report(room)
    again = evidence_sheet(EvidenceReport.objects.get())
    made = evidence_pdf(sheet)
    assert made == evidence_pdf(again)
    assert faults_of(made) == []


def test_asking_registers_the_report_and_a_job_makes_it(room: CountRoom) -> None:
    job = start_evidence(
        actor=room.cast.auditor, site=room.site, from_on=TODAY().replace(month=1, day=1), until_on=TODAY()
    )
    done = finish(job)
    made = EvidenceReport.objects.get()
    assert done.state == Job.State.DONE
    assert made.made_at is not None
    assert history_of(made)[0].verb == "count.report_asked"
    content = open_file(actor=room.cast.auditor, file=done.files.get())
    assert str(made) in text_of(content)


@pytest.mark.parametrize("person", ["locksmith", "desk", "manager", "requester"])
def test_only_those_who_answer_for_counts_get_a_report(room: CountRoom, person: str) -> None:
    with pytest.raises(PermissionDenied):
        start_evidence(actor=room.cast.everybody[person], site=room.site, from_on=TODAY(), until_on=TODAY())


def test_a_period_that_makes_no_sense_is_refused(room: CountRoom) -> None:
    facts: dict[str, Any] = {"actor": room.cast.officer, "site": room.site}
    for days, sentence in [
        ((0, -1), "ends before it begins"),
        ((1, 2), "has not begun"),
        ((-9000, 0), "10 years"),
    ]:
        begin, end = (TODAY() + timedelta(days=each) for each in days)
        with pytest.raises(Refused, match=sentence):
            start_evidence(from_on=begin, until_on=end, **facts)


def test_the_page_asks_and_lists(room: CountRoom, client: Client) -> None:
    asked = answers(room.cast, "prints:evidence", room.site.pk)
    assert asked == allowed("officer", "auditor", "administrator")
    client.force_login(room.cast.auditor)
    where = reverse("prints:evidence", args=[room.site.pk])
    facts = {"from_on": "2026-01-01", "until_on": f"{TODAY():%Y-%m-%d}"}
    assert client.post(where, facts).status_code == 302
    assert str(EvidenceReport.objects.get()) in client.get(where).content.decode()
