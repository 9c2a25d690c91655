"""The decisions that a request needs, one after the other."""

from django.conf import settings
from django.db import models
from django.db.models import F, Q
from django.utils.translation import gettext_lazy

from keyctl.approvals.models.requests import KeyRequest
from keyctl.approvals.models.rules import Deciders
from keyctl.lib.language import in_sentence
from keyctl.lib.records import Record


class Step(Record):
    """One decision that a request needs. Made from a rule and kept as it was made, whatever rules become.

    A step is current from ``since`` until it is decided; a later one waits for its turn without a ``since``.
    """

    class State(models.TextChoices):
        WAITING = "waiting", gettext_lazy("Waiting")
        APPROVED = "approved", gettext_lazy("Approved")
        REFUSED = "refused", gettext_lazy("Refused")

    class Told(models.TextChoices):
        """How far the silence of those asked has carried."""

        ASKED = "asked", gettext_lazy("Those asked")
        REMINDED = "reminded", gettext_lazy("All of them reminded")
        OFFICER = "officer", gettext_lazy("The security officers")
        ADMINISTRATOR = "administrator", gettext_lazy("The administrators")

    request = models.ForeignKey(KeyRequest, on_delete=models.CASCADE, related_name="steps")
    ordinal = models.PositiveSmallIntegerField()
    who = models.CharField(max_length=10, choices=Deciders)
    people = models.ManyToManyField(settings.AUTH_USER_MODEL, related_name="+")
    label = models.CharField(max_length=60)
    # Why the keys or their doors need it, as a sentence.
    why = models.CharField(max_length=400)
    is_apart = models.BooleanField(default=False)
    # Copied from the request, so that the database itself can forbid deciding for oneself.
    asked_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    asked_for = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, related_name="+"
    )
    state = models.CharField(max_length=10, choices=State, default=State.WAITING)
    since = models.DateTimeField(null=True)
    silent_hours = models.PositiveSmallIntegerField(default=48)
    due_at = models.DateTimeField(null=True)
    told = models.CharField(max_length=14, choices=Told, default=Told.ASKED)
    escalated_at = models.DateTimeField(null=True)
    decided_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, related_name="+"
    )
    # Whom the decider stood in for.
    for_person = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, related_name="+"
    )
    decided_at = models.DateTimeField(null=True)
    note = models.CharField(max_length=400, blank=True)
    # Who handed out a master key of the request: never a person who decided about it.
    master_out_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, related_name="+"
    )

    class Meta:
        ordering = ["request", "ordinal"]
        constraints = [
            models.UniqueConstraint(fields=["request", "ordinal"], name="step_has_its_place_in_its_request"),
            models.UniqueConstraint(
                fields=["request"],
                condition=Q(state="waiting", since__isnull=False),
                name="key_request_waits_for_one_step_at_a_time",
            ),
            models.UniqueConstraint(
                fields=["request", "decided_by"],
                condition=Q(is_apart=True),
                name="steps_apart_are_decided_by_different_people",
            ),
            models.CheckConstraint(
                condition=Q(state="waiting", decided_by__isnull=True, decided_at__isnull=True)
                | Q(
                    state__in=["approved", "refused"],
                    decided_by__isnull=False,
                    decided_at__isnull=False,
                    since__isnull=False,
                ),
                name="step_decision_says_who_and_when",
            ),
            models.CheckConstraint(
                condition=Q(since__isnull=True, due_at__isnull=True)
                | Q(since__isnull=False, due_at__isnull=False),
                name="step_that_waits_says_until_when",
            ),
            models.CheckConstraint(
                condition=~Q(decided_by=F("asked_by")), name="nobody_decides_a_step_they_asked_for"
            ),
            models.CheckConstraint(
                condition=~Q(decided_by=F("asked_for")), name="nobody_decides_a_step_for_themselves"
            ),
            models.CheckConstraint(
                condition=~Q(for_person=F("asked_by")) & ~Q(for_person=F("asked_for")),
                name="no_substitute_decides_for_whom_they_stand_in",
            ),
            models.CheckConstraint(
                condition=~Q(decided_by=F("for_person")), name="nobody_decides_as_their_own_substitute"
            ),
            models.CheckConstraint(
                condition=~Q(master_out_by=F("decided_by")),
                name="who_decides_a_step_does_not_hand_its_master_out",
            ),
        ]
        indexes = [models.Index(fields=["state", "due_at"], name="step_by_due_time")]

    def __str__(self) -> str:
        return f"{self.label}: {in_sentence(self.get_state_display())}"

    @property
    def is_current(self) -> bool:
        return self.state == self.State.WAITING and self.since is not None
