"""What came of holding all data against the laws, time after time; and archives of the whole estate."""

from django.conf import settings
from django.db import models
from django.db.models import Q
from django.utils import timezone

from keyctl.jobs.models import Job
from keyctl.lib.records import Record
from keyctl.lib.tags import grouped, new_tag


class EstateCheck(Record):
    """One look at everything. ``breaches`` names some of each law, with the remedy; ``left_out`` the laws
    that could not be looked at, and why."""

    at = models.DateTimeField(default=timezone.now)
    seconds = models.FloatField()
    laws = models.PositiveIntegerField()
    number = models.PositiveIntegerField()
    breaches = models.JSONField(default=list)
    left_out = models.JSONField(default=dict)

    class Meta:
        ordering = ["-at"]
        indexes = [models.Index(fields=["-at"], name="estate_check_by_time")]

    def __str__(self) -> str:
        return f"{self.number} breaches"

    @property
    def is_clean(self) -> bool:
        return self.number == 0


class EstateArchive(Record):
    """Somebody asked for an archive of the whole estate, and why; what became of it stands in its file."""

    number = models.CharField(max_length=16, default=new_tag)
    actor = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    reason = models.CharField(max_length=200)
    asked_at = models.DateTimeField(default=timezone.now)

    class Meta:
        ordering = ["-asked_at", "number"]
        constraints = [
            models.UniqueConstraint(fields=["number"], name="estate_archive_number_is_unique"),
            models.CheckConstraint(condition=~Q(reason=""), name="estate_archive_has_a_reason"),
        ]

    def __str__(self) -> str:
        return grouped(self.number)

    @property
    def file_name(self) -> str:
        return f"estate-{self.number}.keyctl-archive"


class EstateArchiveFile(Record):
    """The file of an archive in this installation's folder, for some days. No other installation has it."""

    archive = models.OneToOneField(EstateArchive, on_delete=models.CASCADE, related_name="file")
    job = models.ForeignKey(Job, on_delete=models.SET_NULL, null=True, related_name="+")
    made_at = models.DateTimeField(null=True)
    bytes = models.PositiveBigIntegerField(null=True)
    rows = models.PositiveBigIntegerField(null=True)
    # Of the canonical form: whoever imports it compares.
    digest = models.CharField(max_length=64, blank=True)
    gone_at = models.DateTimeField(null=True)

    class Meta:
        ordering = ["-made_at"]
        constraints = [
            models.CheckConstraint(
                condition=Q(made_at__isnull=True, bytes__isnull=True, rows__isnull=True, digest="")
                | Q(made_at__isnull=False, bytes__isnull=False, rows__isnull=False) & ~Q(digest=""),
                name="archive_file_that_is_made_says_what_it_is",
            ),
            models.CheckConstraint(
                condition=Q(gone_at__isnull=True) | Q(made_at__isnull=False),
                name="archive_file_that_is_gone_was_made",
            ),
        ]

    def __str__(self) -> str:
        return f"file of {self.archive}"
