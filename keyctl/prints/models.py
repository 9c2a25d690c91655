"""The register of what left the house about whole key systems."""

from django.conf import settings
from django.db import models
from django.db.models import Q
from django.utils import timezone

from keyctl.jobs.models import Job
from keyctl.lib.records import Record
from keyctl.lib.tags import grouped, new_tag
from keyctl.places.models import Site
from keyctl.systems.models import KeySystem


class Export(Record):
    """One list of a key system on paper or as a workbook: who asked for it, when, why, and what is on it.

    Its number stands on every page, so that a sheet that is found can be traced to who took it.
    """

    class Kind(models.TextChoices):
        BITTINGS = "bitting-list", "Bitting list"
        SCHEDULE = "keying-schedule", "Keying schedule"

    class Form(models.TextChoices):
        PDF = "pdf", "Paper (PDF)"
        WORKBOOK = "xlsx", "Workbook (XLSX)"

    number = models.CharField(max_length=16, default=new_tag)
    kind = models.CharField(max_length=20, choices=Kind)
    form = models.CharField(max_length=8, choices=Form)
    system = models.ForeignKey(KeySystem, on_delete=models.PROTECT, related_name="exports")
    site = models.ForeignKey(Site, on_delete=models.PROTECT, related_name="exports")
    actor = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    reason = models.CharField(max_length=200)
    asked_at = models.DateTimeField(default=timezone.now)
    job = models.ForeignKey(Job, on_delete=models.SET_NULL, null=True, related_name="+")
    made_at = models.DateTimeField(null=True)
    rows = models.PositiveIntegerField(null=True)

    class Meta:
        ordering = ["-asked_at", "number"]
        indexes = [models.Index(fields=["site", "-asked_at"], name="export_by_site")]
        constraints = [
            models.UniqueConstraint(fields=["number"], name="export_number_is_unique"),
            models.CheckConstraint(condition=~Q(reason=""), name="export_has_a_reason"),
            models.CheckConstraint(
                condition=Q(made_at__isnull=True, rows__isnull=True)
                | Q(made_at__isnull=False, rows__isnull=False),
                name="export_that_is_made_says_when_and_what",
            ),
        ]

    def __str__(self) -> str:
        return grouped(self.number)

    @property
    def file_name(self) -> str:
        return f"{self.kind}-{self.number}.{self.form}"
