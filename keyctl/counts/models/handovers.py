"""A cabinet that passes from one custodian to the next; and the reports of what was counted in a period."""

from django.conf import settings
from django.db import models
from django.db.models import F, Q
from django.utils import timezone

from keyctl.counts.models.counting import Count
from keyctl.jobs.models import Job
from keyctl.keys.models import Cabinet
from keyctl.lib.records import Record
from keyctl.lib.tags import grouped, new_tag
from keyctl.places.models import Site


class CabinetHandover(Record):
    """Counted, then signed by who gives the cabinet and by who takes it."""

    cabinet = models.ForeignKey(Cabinet, on_delete=models.PROTECT, related_name="handovers")
    count = models.ForeignKey(Count, on_delete=models.PROTECT, related_name="handovers")
    giver = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, related_name="+")
    taker = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, related_name="+")
    made_at = models.DateTimeField(default=timezone.now)
    made_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    giver_signed_at = models.DateTimeField(null=True)
    taker_signed_at = models.DateTimeField(null=True)
    # Somebody who has left cannot sign; an officer says why.
    excused_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, related_name="+"
    )
    excuse = models.CharField(max_length=200, blank=True)
    done_at = models.DateTimeField(null=True)

    class Meta:
        ordering = ["-made_at"]
        constraints = [
            models.CheckConstraint(
                condition=~Q(giver=F("taker")), name="cabinet_is_handed_over_to_somebody_else"
            ),
            models.CheckConstraint(
                condition=Q(excused_by__isnull=True, excuse="")
                | Q(excused_by__isnull=False) & ~Q(excuse="") & ~Q(excused_by=F("giver")),
                name="cabinet_handover_excuse_says_who_and_why",
            ),
            models.CheckConstraint(
                condition=Q(done_at__isnull=True)
                | (Q(taker__isnull=True) | Q(taker_signed_at__isnull=False))
                & (Q(giver__isnull=True) | Q(giver_signed_at__isnull=False) | Q(excused_by__isnull=False)),
                name="cabinet_handover_ends_signed_by_both",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.cabinet} from {self.giver or 'nobody'} to {self.taker or 'nobody'}"


class EvidenceReport(Record):
    """One report of a period: what was due, done and late. Its number stands on every page."""

    number = models.CharField(max_length=16, default=new_tag)
    site = models.ForeignKey(Site, on_delete=models.PROTECT, related_name="count_reports")
    from_on = models.DateField()
    until_on = models.DateField()
    actor = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    asked_at = models.DateTimeField(default=timezone.now)
    job = models.ForeignKey(Job, on_delete=models.SET_NULL, null=True, related_name="+")
    made_at = models.DateTimeField(null=True)

    class Meta:
        ordering = ["-asked_at", "number"]
        constraints = [
            models.UniqueConstraint(fields=["number"], name="evidence_report_number_is_unique"),
            models.CheckConstraint(
                condition=Q(until_on__gte=F("from_on")), name="evidence_report_ends_after_it_begins"
            ),
        ]

    def __str__(self) -> str:
        return grouped(self.number)
