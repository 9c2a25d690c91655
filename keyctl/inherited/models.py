"""Bitting lists brought in from spreadsheets, sealed until they are written down or given up."""

from django.conf import settings
from django.db import models
from django.db.models import Q
from django.utils import timezone
from django.utils.translation import gettext_lazy

from keyctl.lib.records import Record
from keyctl.places.models import Site
from keyctl.systems.models import KeySystem
from keyctl.vault.fields import SealedField


class BittingList(Record):
    """One uploaded file: what it is for, which column says what, and what the dry run found.

    The file holds bittings and is sealed; it and what was found in it are deleted as soon as its keys are
    written, or it is given up.
    """

    class State(models.TextChoices):
        UPLOADED = "uploaded", gettext_lazy("Columns to choose")
        CHECKED = "checked", gettext_lazy("Checked, not written")
        WRITING = "writing", gettext_lazy("Being written")
        DONE = "done", gettext_lazy("Written")
        LEFT = "left", gettext_lazy("Given up")

    OPEN = (State.UPLOADED, State.CHECKED, State.WRITING)

    site = models.ForeignKey(Site, on_delete=models.PROTECT, related_name="bitting_lists")
    name = models.CharField(max_length=120)
    digest = models.CharField(max_length=64)
    content = SealedField(null=True)
    state = models.CharField(max_length=8, choices=State, default=State.UPLOADED)
    version = models.PositiveIntegerField(default=1)

    # An existing system; or, where there is none, the facts of the one to open.
    system = models.ForeignKey(KeySystem, on_delete=models.PROTECT, null=True, related_name="bitting_lists")
    code = models.CharField(max_length=20, blank=True)
    system_name = models.CharField(max_length=120, blank=True)
    format_id = models.CharField(max_length=40)
    keyway = models.CharField(max_length=20)

    # By what a column says (symbol, bitting, parent, kind, core), its place from 0.
    columns = models.JSONField(default=dict)
    has_header = models.BooleanField(default=True)
    # Sealed too: where columns are mixed up, what stands for a symbol may be a bitting.
    findings = SealedField(null=True)
    counts = models.JSONField(default=dict)

    uploaded_at = models.DateTimeField(default=timezone.now)
    uploaded_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    checked_at = models.DateTimeField(null=True)
    ended_at = models.DateTimeField(null=True)

    class Meta:
        ordering = ["-uploaded_at", "-pk"]
        constraints = [
            models.CheckConstraint(
                condition=Q(
                    state__in=["uploaded", "checked", "writing"], content__isnull=False, ended_at=None
                )
                | Q(state__in=["done", "left"], content__isnull=True, ended_at__isnull=False),
                name="bitting_list_is_deleted_when_it_ends",
            ),
            models.CheckConstraint(
                condition=Q(state__in=["uploaded", "left"]) | Q(checked_at__isnull=False),
                name="bitting_list_is_checked_before_it_is_written",
            ),
            models.CheckConstraint(
                condition=Q(system__isnull=False) | ~Q(code=""), name="bitting_list_names_its_system"
            ),
        ]

    def __str__(self) -> str:
        return self.name

    @property
    def is_open(self) -> bool:
        return self.state in self.OPEN

    @property
    def target(self) -> str:
        """The code of the system its keys go into."""
        return self.system.code if self.system else self.code

    @property
    def errors(self) -> int:
        return int(self.counts.get("errors", 0))

    @property
    def warnings(self) -> int:
        return int(self.counts.get("warnings", 0))


class ListHabit(Record):
    """The headings that a site's lists have, so that the next one's columns are known at once."""

    site = models.OneToOneField(Site, on_delete=models.CASCADE, related_name="list_habit")
    headings = models.JSONField(default=dict)

    def __str__(self) -> str:
        return f"Headings of lists at {self.site}"
