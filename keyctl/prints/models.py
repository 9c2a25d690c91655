"""The register of what left the house about whole key systems, buildings and sites."""

from django.conf import settings
from django.db import models
from django.db.models import Q
from django.utils import timezone
from django.utils.translation import gettext_lazy

from keyctl.jobs.models import Job
from keyctl.lib.records import Record
from keyctl.lib.tags import grouped, new_tag
from keyctl.places.models import Building, Site
from keyctl.systems.models import KeySystem


class Export(Record):
    """One list of a key system, a building or a site: who asked for it, when, why, and what is on it.

    Its number stands on every page, so that a sheet that is found can be traced to who took it.
    """

    class Kind(models.TextChoices):
        BITTINGS = "bitting-list", gettext_lazy("Bitting list")
        SCHEDULE = "keying-schedule", gettext_lazy("Keying schedule")
        DOORS = "door-schedule", gettext_lazy("Door schedule")
        CHART = "lock-chart", gettext_lazy("Lock chart")
        BINDER = "binder", gettext_lazy("Hand-over binder")

    class Form(models.TextChoices):
        PDF = "pdf", gettext_lazy("Paper (PDF)")
        WORKBOOK = "xlsx", gettext_lazy("Workbook (XLSX)")

    number = models.CharField(max_length=16, default=new_tag)
    kind = models.CharField(max_length=20, choices=Kind)
    form = models.CharField(max_length=8, choices=Form)
    # A list of a system names it; one of a place may name a building of the site.
    system = models.ForeignKey(KeySystem, on_delete=models.PROTECT, null=True, related_name="exports")
    building = models.ForeignKey(Building, on_delete=models.PROTECT, null=True, related_name="exports")
    holds_bittings = models.BooleanField(default=False)
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
                condition=Q(
                    kind__in=["bitting-list", "keying-schedule"], system__isnull=False, building__isnull=True
                )
                | Q(kind__in=["door-schedule", "lock-chart", "binder"], system__isnull=True),
                name="export_is_about_a_system_or_a_place",
            ),
            models.CheckConstraint(
                condition=Q(kind="bitting-list", holds_bittings=True)
                | Q(kind="binder")
                | Q(kind__in=["keying-schedule", "door-schedule", "lock-chart"], holds_bittings=False),
                name="export_says_whether_it_holds_bittings",
            ),
            models.CheckConstraint(
                condition=Q(made_at__isnull=True, rows__isnull=True)
                | Q(made_at__isnull=False, rows__isnull=False),
                name="export_that_is_made_says_when_and_what",
            ),
        ]

    def __str__(self) -> str:
        return grouped(self.number)

    @property
    def about(self) -> str:
        """Which one, in a few words."""
        return self.system.code if self.system else str(self.building or self.site)

    @property
    def subject(self) -> Record:
        """The thing it tells of."""
        return self.system or self.building or self.site

    @property
    def file_name(self) -> str:
        return f"{self.kind}-{self.number}.{self.form}"
