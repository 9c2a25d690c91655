"""What tablets tell: one physical fact or remark each, kept with the answer that it got."""

import uuid

from django.conf import settings
from django.db import models
from django.db.models import Q
from django.utils import timezone
from django.utils.translation import gettext_lazy

from keyctl.field.models.devices import Device
from keyctl.lib.records import Record

# A clock that is further off is shown as wrong.
MOST_SKEW_SECONDS = 300


class Outcome(models.TextChoices):
    APPLIED = "applied", gettext_lazy("Applied")
    CONFLICT = "accepted_with_conflict", gettext_lazy("Recorded, with a conflict")
    REJECTED = "rejected", gettext_lazy("Rejected")
    # An answer only: no row is kept of a repeat.
    DUPLICATE = "duplicate", gettext_lazy("Known already")


class Via(models.TextChoices):
    TABLET = "tablet", gettext_lazy("Sent by the tablet")
    FILE = "file", gettext_lazy("Handed in")


class FieldEvent(models.Model):
    """Its identifier is the tablet's: whatever arrives under it again is told from it by the digest."""

    class Kind(models.TextChoices):
        SWAPPED = "swapped", gettext_lazy("Core swapped")
        PUT = "put", gettext_lazy("Core put away")
        FOUND = "found", gettext_lazy("Core found")
        UNREACHED = "unreached", gettext_lazy("Door not reached")
        CHECKED = "checked", gettext_lazy("Checklist")
        NOTED = "noted", gettext_lazy("Note")
        PHOTOGRAPHED = "photographed", gettext_lazy("Photo")

    class Quarantine(models.TextChoices):
        NONE = "", gettext_lazy("None")
        WAITING = "waiting", gettext_lazy("Waits")
        TAKEN_IN = "taken-in", gettext_lazy("Taken in")
        SET_ASIDE = "set-aside", gettext_lazy("Set aside")

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    device = models.ForeignKey(Device, on_delete=models.PROTECT, null=True, related_name="events")
    sequence = models.PositiveIntegerField()
    kind = models.CharField(max_length=14, choices=Kind)
    claimed_at = models.DateTimeField()
    # Who was signed in when it was written, as far as that person is known here; and who sent it.
    person = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, related_name="+"
    )
    sender = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    body = models.JSONField(default=dict)
    digest = models.CharField(max_length=64)
    via = models.CharField(max_length=8, choices=Via)
    received_at = models.DateTimeField(default=timezone.now)
    skew_seconds = models.IntegerField(null=True)

    outcome = models.CharField(
        max_length=24, choices=[(each.value, each.label) for each in (Outcome.APPLIED, Outcome.CONFLICT)]
    )
    reason = models.CharField(max_length=600, blank=True)
    case = models.ForeignKey(
        "field.ReconcileCase", on_delete=models.PROTECT, null=True, related_name="events"
    )
    quarantine = models.CharField(max_length=10, choices=Quarantine, blank=True, default="")
    # What became of it when it was taken in; a repeat is answered as the first time.
    later_outcome = models.CharField(max_length=24, blank=True, default="")
    later_reason = models.CharField(max_length=600, blank=True, default="")
    decided_at = models.DateTimeField(null=True)
    decided_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, related_name="+"
    )
    # What it said is forgotten after its time; that it was here is not, so that no repeat is done twice.
    forgotten_at = models.DateTimeField(null=True)

    class Meta:
        ordering = ["-received_at", "-sequence"]
        constraints = [
            models.CheckConstraint(
                condition=Q(outcome__in=["applied", "accepted_with_conflict"]),
                name="field_event_has_an_outcome",
            ),
            models.CheckConstraint(
                condition=Q(quarantine__in=["", "waiting"], decided_at__isnull=True, decided_by__isnull=True)
                | Q(
                    quarantine__in=["taken-in", "set-aside"],
                    decided_at__isnull=False,
                    decided_by__isnull=False,
                ),
                name="field_event_out_of_quarantine_says_by_whom",
            ),
            models.CheckConstraint(condition=Q(sequence__gte=1), name="field_event_counts_from_one"),
        ]
        indexes = [
            models.Index(fields=["device", "sequence"], name="field_event_by_sequence"),
            models.Index(fields=["quarantine", "received_at"], name="field_event_by_quarantine"),
            models.Index(
                fields=["received_at"], condition=Q(forgotten_at__isnull=True), name="field_event_to_forget"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.get_kind_display()}, event {self.sequence}"


class RejectedEvent(Record):
    """What could not be read as an event, kept as it came, with the place of its fault."""

    event_id = models.UUIDField(null=True)
    digest = models.CharField(max_length=64)
    device = models.ForeignKey(Device, on_delete=models.PROTECT, null=True, related_name="rejected")
    sequence = models.PositiveIntegerField(null=True)
    sender = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    received_at = models.DateTimeField(default=timezone.now)
    text = models.TextField(blank=True)
    reason = models.CharField(max_length=600)

    class Meta:
        ordering = ["-received_at"]
        constraints = [
            models.UniqueConstraint(fields=["event_id", "digest"], name="rejected_event_is_kept_once")
        ]
        indexes = [models.Index(fields=["device", "sequence"], name="rejected_event_by_sequence")]

    def __str__(self) -> str:
        return f"Rejected: {self.reason}"
