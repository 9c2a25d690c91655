"""People who go: what they still hold is a case until it is back, and every reminder of it is kept."""

from django.conf import settings
from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.db.models import Q
from django.utils import timezone
from django.utils.translation import gettext_lazy

from keyctl.keys.models import Holder
from keyctl.lib.records import Record
from keyctl.notices.models import Notice
from keyctl.places.models import Site


class LeaverCase(Record):
    """One person's leaving at one site. It closes with the last key that is back or accounted for."""

    class Why(models.TextChoices):
        SCIM = "scim", gettext_lazy("Told by the identity provider")
        TABLE = "table", gettext_lazy("Missing from a list of people")
        HAND = "by-hand", gettext_lazy("Told here")
        FOUND = "found", gettext_lazy("Found holding keys after leaving")

    class State(models.TextChoices):
        OPEN = "open", gettext_lazy("Open")
        CLOSED = "closed", gettext_lazy("Closed")

    class Outcome(models.TextChoices):
        BACK = "back", gettext_lazy("All keys are back or accounted for")
        STAYS = "stays", gettext_lazy("The person stays, or came back")
        REASON = "reason", gettext_lazy("Closed with a reason")

    holder = models.ForeignKey(Holder, on_delete=models.PROTECT, related_name="leaver_cases")
    why = models.CharField(max_length=8, choices=Why)
    note = models.TextField(blank=True)
    # The last day, where leaving was announced; empty where they were gone when it was told.
    leaves_on = models.DateField(null=True)
    opened_at = models.DateTimeField(default=timezone.now)
    # Nobody where a routine found it.
    opened_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, related_name="+"
    )
    state = models.CharField(max_length=6, choices=State, default=State.OPEN)
    version = models.PositiveIntegerField(default=1)

    outcome = models.CharField(max_length=6, choices=Outcome, blank=True)
    closed_at = models.DateTimeField(null=True)
    closed_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, related_name="+"
    )
    closing_note = models.TextField(blank=True)

    # How many reminders went out by themselves, and when the next one does; none where they are used up.
    reminded = models.PositiveSmallIntegerField(default=0)
    next_reminder_at = models.DateTimeField(null=True)
    escalated_at = models.DateTimeField(null=True)
    paused_until = models.DateField(null=True)
    pause_reason = models.CharField(max_length=200, blank=True)
    paused_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, related_name="+"
    )

    class Meta:
        ordering = ["-opened_at", "pk"]
        constraints = [
            models.UniqueConstraint(
                fields=["holder"], condition=Q(state="open"), name="leaver_has_one_open_case_at_a_site"
            ),
            models.CheckConstraint(
                condition=Q(state="open", outcome="", closed_at=None, closed_by=None)
                | Q(state="closed", outcome__in=["back", "stays", "reason"], closed_at__isnull=False),
                name="leaver_case_says_how_it_ended",
            ),
            models.CheckConstraint(
                condition=~Q(outcome="reason") | (~Q(closing_note="") & Q(closed_by__isnull=False)),
                name="leaver_case_is_closed_by_hand_with_a_reason",
            ),
            models.CheckConstraint(
                condition=Q(paused_until=None, paused_by=None, pause_reason="")
                | (Q(paused_until__isnull=False, paused_by__isnull=False) & ~Q(pause_reason="")),
                name="leaver_pause_says_why_and_until_when",
            ),
        ]
        indexes = [models.Index(fields=["state", "next_reminder_at"], name="leaver_case_by_reminder")]

    def __str__(self) -> str:
        return f"{self.holder} at {self.holder.site}"

    @property
    def is_open(self) -> bool:
        return self.state == self.State.OPEN

    @property
    def has_left(self) -> bool:
        return not self.holder.is_active or self.leaves_on is None or self.leaves_on <= timezone.localdate()

    @property
    def is_paused(self) -> bool:
        return self.paused_until is not None and self.paused_until >= timezone.localdate()

    @property
    def age(self) -> int:
        """Days since it was told."""
        return (timezone.now() - self.opened_at).days


class LeaverRules(Record):
    """How a site reminds people who go."""

    site = models.OneToOneField(Site, on_delete=models.CASCADE, related_name="leaver_rules")
    lead_days = models.PositiveSmallIntegerField(
        default=14, validators=[MaxValueValidator(90)], verbose_name=gettext_lazy("Days before the last day")
    )
    repeat_days = models.PositiveSmallIntegerField(
        default=7,
        validators=[MinValueValidator(1), MaxValueValidator(90)],
        verbose_name=gettext_lazy("Days between"),
    )
    escalate_after = models.PositiveSmallIntegerField(
        default=2,
        validators=[MinValueValidator(1), MaxValueValidator(20)],
        verbose_name=gettext_lazy("Tell managers after"),
    )
    stop_after = models.PositiveSmallIntegerField(
        default=5,
        validators=[MinValueValidator(1), MaxValueValidator(20)],
        verbose_name=gettext_lazy("Stop after"),
    )

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=Q(repeat_days__gte=1, escalate_after__gte=1, stop_after__gte=1),
                name="leaver_reminders_are_apart_and_end",
            )
        ]

    def __str__(self) -> str:
        return f"Reminders at {self.site}"


class Reminder(Record):
    """One message of a case: to whom, and what became of it."""

    class Kind(models.TextChoices):
        ANNOUNCED = "announced", gettext_lazy("Before the last day")
        REMINDER = "reminder", gettext_lazy("Reminder")
        HAND = "by-hand", gettext_lazy("Sent by hand")
        ESCALATION = "escalation", gettext_lazy("To managers")

    case = models.ForeignKey(LeaverCase, on_delete=models.PROTECT, related_name="reminders")
    kind = models.CharField(max_length=10, choices=Kind)
    at = models.DateTimeField(default=timezone.now)
    to_name = models.CharField(max_length=120)
    # None where it is the same message that went out already.
    notice = models.ForeignKey(Notice, on_delete=models.PROTECT, null=True, related_name="+")
    sent_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, related_name="+"
    )

    class Meta:
        ordering = ["-at", "to_name"]

    def __str__(self) -> str:
        return f"{self.get_kind_display()} to {self.to_name}"
