"""What comes in by a file: the file, what a dry run found in it, and every row that will change or has."""

from django.conf import settings
from django.db import models
from django.db.models import Q
from django.utils import timezone
from django.utils.translation import gettext_lazy

from keyctl.lib.records import Record
from keyctl.places.models import Site
from keyctl.vault.fields import SealedField


class Import(Record):
    """One file on its way in, and back out again where it is undone.

    The file is sealed, and deleted as soon as it is taken or given up; what it changed is kept row by row
    (``Change``), so that all of it can be undone as one act.
    """

    class State(models.TextChoices):
        UPLOADED = "uploaded", gettext_lazy("Not tried yet")
        CHECKED = "checked", gettext_lazy("Tried, not taken")
        TAKING = "taking", gettext_lazy("Being taken")
        TAKEN = "taken", gettext_lazy("Taken")
        UNDOING = "undoing", gettext_lazy("Being undone")
        UNDONE = "undone", gettext_lazy("Undone")
        LEFT = "left", gettext_lazy("Given up")

    OPEN = (State.UPLOADED, State.CHECKED, State.TAKING)

    site = models.ForeignKey(Site, on_delete=models.PROTECT, related_name="imports")
    kind = models.CharField(max_length=20)
    name = models.CharField(max_length=120)
    digest = models.CharField(max_length=64)
    content = SealedField(null=True)
    state = models.CharField(max_length=8, choices=State, default=State.UPLOADED)
    version = models.PositiveIntegerField(default=1)
    # By what a column says, its place from 0; empty where the file itself says so.
    columns = models.JSONField(default=dict)
    # What the dry run counted, by thing; then what was taken, and what was undone.
    counts = models.JSONField(default=dict)

    uploaded_at = models.DateTimeField(default=timezone.now)
    uploaded_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    checked_at = models.DateTimeField(null=True)
    taken_at = models.DateTimeField(null=True)
    undone_at = models.DateTimeField(null=True)
    # Since when its rows are not kept any more: it cannot be undone from then on.
    cleared_at = models.DateTimeField(null=True)

    class Meta:
        ordering = ["-uploaded_at", "-pk"]
        constraints = [
            models.CheckConstraint(
                condition=Q(state__in=["uploaded", "checked", "taking"], content__isnull=False)
                | Q(state__in=["taken", "undoing", "undone", "left"], content__isnull=True),
                name="import_file_is_deleted_when_it_ends",
            ),
            models.CheckConstraint(
                condition=Q(state__in=["uploaded", "left", "taken", "undoing", "undone"])
                | Q(checked_at__isnull=False),
                name="import_is_tried_before_it_is_taken",
            ),
            models.CheckConstraint(
                condition=~Q(state="taken") | Q(taken_at__isnull=False), name="import_that_is_taken_says_when"
            ),
        ]

    def __str__(self) -> str:
        return self.name

    @property
    def is_open(self) -> bool:
        return self.state in self.OPEN

    @property
    def errors(self) -> int:
        return int(self.counts.get("errors", 0))

    @property
    def can_be_undone(self) -> bool:
        return self.state in {self.State.TAKEN, self.State.UNDOING} and self.cleared_at is None


class Change(models.Model):
    """One row that an import makes or changes: planned by the dry run, taken, and perhaps undone.

    ``seen`` is a digest of the whole row at the dry run, ``left`` one of what taking left: where the row is
    another by then, somebody was there in between.
    """

    class Act(models.TextChoices):
        CREATE = "create", gettext_lazy("New")
        CHANGE = "change", gettext_lazy("Changed")

    class State(models.TextChoices):
        PLANNED = "planned", gettext_lazy("Planned")
        TAKEN = "taken", gettext_lazy("Taken")
        CONFLICT = "conflict", gettext_lazy("Left out: changed since")
        UNDONE = "undone", gettext_lazy("Undone")
        KEPT = "kept", gettext_lazy("Kept: used since")

    imported = models.ForeignKey(Import, on_delete=models.CASCADE, related_name="changes")
    # Its place in the order of writing: what others stand on comes first.
    position = models.PositiveIntegerField()
    thing = models.CharField(max_length=20)
    thing_id = models.UUIDField()
    act = models.CharField(max_length=6, choices=Act)
    state = models.CharField(max_length=8, choices=State, default=State.PLANNED)
    label = models.CharField(max_length=200)
    sheet = models.CharField(max_length=60, blank=True)
    row = models.PositiveIntegerField(default=0)
    values = models.JSONField(default=dict)
    before = models.JSONField(default=dict)
    # (what, from, to) in words.
    words = models.JSONField(default=list)
    seen = models.CharField(max_length=32, blank=True)
    left = models.CharField(max_length=32, blank=True)
    # The entry of history that tells of its taking.
    event = models.BigIntegerField(null=True)
    reason = models.CharField(max_length=400, blank=True)

    class Meta:
        ordering = ["position"]
        constraints = [
            models.UniqueConstraint(fields=["imported", "position"], name="change_has_its_own_place"),
            models.UniqueConstraint(fields=["imported", "thing", "thing_id"], name="change_is_made_once"),
            models.CheckConstraint(
                condition=Q(state__in=["planned", "taken", "undone"], reason="")
                | (Q(state__in=["conflict", "kept"]) & ~Q(reason="")),
                name="change_that_was_refused_says_why",
            ),
        ]
        indexes = [models.Index(fields=["imported", "state", "position"], name="change_by_state")]

    def __str__(self) -> str:
        return self.label


class ImportFault(models.Model):
    """What a dry run found wrong with a row, by its cell, and what to do about it."""

    imported = models.ForeignKey(Import, on_delete=models.CASCADE, related_name="faults")
    position = models.PositiveIntegerField()
    sheet = models.CharField(max_length=60, blank=True)
    row = models.PositiveIntegerField(default=0)
    column = models.CharField(max_length=60, blank=True)
    message = models.CharField(max_length=400)
    is_error = models.BooleanField(default=True)

    class Meta:
        ordering = ["position"]
        constraints = [
            models.UniqueConstraint(fields=["imported", "position"], name="import_fault_has_its_own_place"),
        ]

    def __str__(self) -> str:
        return self.message


class ImportHabit(Record):
    """The headings that a site's files of a kind have, so that the next one's columns are known at once."""

    site = models.ForeignKey(Site, on_delete=models.CASCADE, related_name="import_habits")
    kind = models.CharField(max_length=20)
    headings = models.JSONField(default=dict)

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["site", "kind"], name="import_habit_is_kept_once"),
        ]

    def __str__(self) -> str:
        return f"Headings of {self.kind} at {self.site}"
