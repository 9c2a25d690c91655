"""The register of tables that left the house."""

from django.conf import settings
from django.db import models
from django.db.models import Q
from django.utils import timezone

from keyctl.jobs.models import Job
from keyctl.lib.records import Record
from keyctl.lib.tags import grouped, new_tag
from keyctl.places.models import Site


class TakenTable(Record):
    """A table of one kind of thing, as somebody narrowed it: who took it, when, how many rows."""

    class Form(models.TextChoices):
        CSV = "csv", "CSV"
        WORKBOOK = "xlsx", "XLSX"

    LONGEST_WORDS = 200

    number = models.CharField(max_length=16, default=new_tag)
    table = models.CharField(max_length=20)
    form = models.CharField(max_length=8, choices=Form)
    # What it was narrowed to, as it stood in the address of the list.
    words = models.CharField(max_length=LONGEST_WORDS, blank=True)
    # It names holders, or says what they have.
    tells_of_people = models.BooleanField()
    sites = models.ManyToManyField(Site, related_name="taken_tables")
    actor = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    asked_at = models.DateTimeField(default=timezone.now)
    job = models.ForeignKey(Job, on_delete=models.SET_NULL, null=True, related_name="+")
    made_at = models.DateTimeField(null=True)
    rows = models.PositiveIntegerField(null=True)

    class Meta:
        ordering = ["-asked_at", "number"]
        indexes = [models.Index(fields=["-asked_at"], name="taken_table_by_time")]
        constraints = [
            models.UniqueConstraint(fields=["number"], name="taken_table_number_is_unique"),
            models.CheckConstraint(
                condition=Q(made_at__isnull=True, rows__isnull=True)
                | Q(made_at__isnull=False, rows__isnull=False),
                name="taken_table_that_is_made_says_when_and_what",
            ),
        ]

    def __str__(self) -> str:
        return grouped(self.number)

    @property
    def file_name(self) -> str:
        return f"{self.table}-{self.number}.{self.form}"
