"""The evidence report of a site's counts: asked for, numbered and registered, then set as a job."""

from datetime import date
from typing import Any

from django.db import transaction
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from keyctl.accounts.models import User
from keyctl.audit.services import record
from keyctl.counts.access import REPORTERS
from keyctl.counts.models import EvidenceReport
from keyctl.counts.selectors.evidence import EvidenceSheet, evidence_sheet
from keyctl.jobs.kinds import register_kind
from keyctl.jobs.models import Job
from keyctl.jobs.running import Running
from keyctl.jobs.services import start_job
from keyctl.lib.days import day
from keyctl.lib.errors import Refused
from keyctl.places.access import require_role
from keyctl.places.models import Site
from keyctl.prints.frame import Head, Secrecy, set_print
from keyctl.prints.paper import Shape
from keyctl.prints.pdf import require_printer

KIND = "prints.count-evidence"
LONGEST_YEARS = 10


def register_evidence() -> None:
    register_kind(
        KIND, gettext_lazy("Make an evidence report of counts"), make_evidence, file_roles=REPORTERS
    )


@transaction.atomic
def start_evidence(*, actor: User, site: Site, from_on: date, until_on: date) -> Job:
    """Register the report under its number and put its making in the queue: a large site takes a while."""
    require_role(actor, site, *REPORTERS)
    if until_on < from_on:
        raise Refused(_("The period ends before it begins. Turn the two days round."))
    if until_on.year - from_on.year > LONGEST_YEARS:
        raise Refused(
            _("A report covers at most {longest_years} years. Choose a shorter period.").format(
                longest_years=LONGEST_YEARS
            )
        )
    if from_on > timezone.localdate():
        raise Refused(_("The period has not begun. Choose an earlier day."))
    require_printer()
    report = EvidenceReport.objects.create(site=site, from_on=from_on, until_on=until_on, actor=actor)
    report.job = start_job(
        actor=actor,
        kind=KIND,
        site=site,
        parameters={"report": str(report.pk)},
        subjects=[report],
        back_url=reverse("prints:evidence", args=[site.pk]),
        about=f"{site.code}, {from_on} to {until_on}",
    )
    report.save(update_fields=["job"])
    record(
        actor=actor,
        verb="count.report_asked",
        sentence=f"asked for the evidence report {report} of the counts from {from_on} to {until_on}",
        site_id=site.pk,
        subjects=[report, site],
        detail={"report": report.number},
    )
    return report.job


def make_evidence(running: Running) -> dict[str, Any]:
    """The job: read, set, keep the sealed file. Short enough to begin anew after a stop."""
    report = EvidenceReport.objects.select_related("site", "actor").get(pk=running.parameters["report"])
    require_role(running.actor, report.site, *REPORTERS)
    running.step(0, 2, _("Reading the counts"))
    sheet = evidence_sheet(report)
    running.step(1, 2, _("Setting {count} counts").format(count=len(sheet.counts)))
    content = evidence_pdf(sheet)
    with transaction.atomic():
        report.made_at = timezone.now()
        report.save(update_fields=["made_at"])
        running.attach(f"count-evidence-{report.number}.pdf", "application/pdf", content, subjects=[report])
    sentence = _("Evidence report {report}: {was_due} due, {in_time} in time, {late} late.").format(
        report=report, was_due=sheet.was_due, in_time=sheet.in_time, late=sheet.late
    )
    facts = {_("Report"): str(report), _("Due"): sheet.was_due, _("In time"): sheet.in_time}
    facts |= {_("Late"): sheet.late, _("Not done"): sheet.not_done, _("Differences"): len(sheet.differences)}
    return {"sentence": sentence, "facts": facts}


def evidence_pdf(sheet: EvidenceSheet) -> bytes:
    """The same sheet is the same file, byte for byte: its only clock is the report's."""
    head = Head(
        kind=_("Evidence of counts of keys"),
        title=_("{site}, {from_on} to {until_on}").format(
            site=sheet.site, from_on=day(sheet.from_on), until_on=day(sheet.until_on)
        ),
        made_by=str(sheet.made_by),
        made_at=sheet.made_at,
        secrecy=Secrecy.LOCKED,
        number=_("Report {number}").format(number=sheet.number),
    )
    return set_print("prints/evidence.html", head, shape=Shape.WIDE, sheet=sheet)
