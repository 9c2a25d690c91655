"""The case of a loss, its lost copies, what people wrote into it, and reports that wait for the desk."""

from typing import TYPE_CHECKING, Self

from django.apps import apps
from django.conf import settings
from django.db import models
from django.db.models import Exists, F, OuterRef, Q
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from keyctl.keys.models import Holder, KeyCopy
from keyctl.lib.records import Record
from keyctl.places.models import Site
from keyctl.systems.models import KeySymbol

if TYPE_CHECKING:
    from keyctl.losses.models.doors import CaseDoor

LONGEST_WORDS = 400


class LossCaseQuerySet(models.QuerySet["LossCase"]):
    def at_sites(self, sites: "models.QuerySet[Site]") -> Self:
        """Those of the sites, and those whose lost keys open something there."""
        return self.filter(Q(site__in=sites) | Q(Exists(_doors_at(sites))))

    def unfinished(self) -> Self:
        return self.filter(state__in=LossCase.UNFINISHED)

    def with_names(self) -> Self:
        return self.select_related("site", "opened_by", "closed_by")


def _doors_at(sites: "models.QuerySet[Site]") -> "models.QuerySet[CaseDoor]":
    doors = apps.get_model("losses", "CaseDoor")._default_manager
    return doors.filter(case=OuterRef("pk"), look=OuterRef("look"), site__in=sites)


class LossCase(Record):
    """Lost copies that are dealt with together, from the report to the proof that they turn nothing.

    What they open is worked out at each look (``look`` numbers it, ``looked_at`` dates it) and kept as
    ``CaseDoor`` rows; ``figures`` holds the same counted, so that no page counts a hundred thousand rows.
    """

    class State(models.TextChoices):
        OPEN = "open", gettext_lazy("Open")
        PLANNED = "planned", gettext_lazy("Plan chosen")
        WORKING = "working", gettext_lazy("Being rekeyed")
        PROVEN = "proven", gettext_lazy("Proven")
        CLOSED = "closed", gettext_lazy("Closed")
        CANCELLED = "cancelled", gettext_lazy("Cancelled")

    UNFINISHED = (State.OPEN, State.PLANNED, State.WORKING, State.PROVEN)
    ENDED = (State.CLOSED, State.CANCELLED)

    number = models.PositiveIntegerField()
    site = models.ForeignKey(Site, on_delete=models.PROTECT, related_name="loss_cases")
    state = models.CharField(max_length=10, choices=State, default=State.OPEN)
    note = models.CharField(max_length=LONGEST_WORDS, blank=True)
    opened_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    opened_at = models.DateTimeField(default=timezone.now)
    # A master or control key is among the lost ones: two persons decide, and one copy suffices.
    has_master = models.BooleanField(default=False)

    look = models.PositiveIntegerField(default=0)
    looked_at = models.DateTimeField(null=True)
    figures = models.JSONField(default=dict)

    closed_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, related_name="+"
    )
    closed_at = models.DateTimeField(null=True)
    outcome = models.CharField(max_length=LONGEST_WORDS, blank=True)
    version = models.PositiveIntegerField(default=1)

    objects = LossCaseQuerySet.as_manager()

    class Meta:
        ordering = ["-number"]
        constraints = [
            models.UniqueConstraint(fields=["number"], name="loss_case_number_is_unique"),
            models.CheckConstraint(
                condition=Q(
                    state__in=["open", "planned", "working", "proven"],
                    closed_by__isnull=True,
                    closed_at__isnull=True,
                    outcome="",
                )
                | (
                    Q(state__in=["closed", "cancelled"], closed_by__isnull=False, closed_at__isnull=False)
                    & ~Q(outcome="")
                ),
                name="loss_case_end_says_who_and_why",
            ),
            models.CheckConstraint(
                condition=Q(has_master=False) | Q(closed_by__isnull=True) | ~Q(closed_by=F("opened_by")),
                name="loss_of_a_master_is_closed_by_another_person",
            ),
            models.CheckConstraint(
                condition=Q(look=0, looked_at__isnull=True) | Q(look__gt=0, looked_at__isnull=False),
                name="loss_case_look_says_when",
            ),
        ]
        indexes = [models.Index(fields=["site", "state", "-number"], name="loss_case_by_state")]

    def __str__(self) -> str:
        return _("Loss {number}").format(number=self.number)

    @property
    def is_unfinished(self) -> bool:
        return self.state in self.UNFINISHED


class LostCopy(Record):
    """One copy that is lost, with what is known of it. Found again it stays in its case."""

    case = models.ForeignKey(LossCase, on_delete=models.PROTECT, related_name="lost_copies")
    copy = models.ForeignKey(KeyCopy, on_delete=models.PROTECT, related_name="losses")
    symbol = models.ForeignKey(KeySymbol, on_delete=models.PROTECT, related_name="losses")
    lost_at = models.DateTimeField(default=timezone.now)
    # With whom or in which cabinet it was last; the register holds the line itself.
    last_with = models.CharField(max_length=120, blank=True)
    holder = models.ForeignKey(Holder, on_delete=models.PROTECT, null=True, related_name="losses")
    where = models.CharField(max_length=200, blank=True)
    last_seen = models.CharField(max_length=120, blank=True)
    police_number = models.CharField(max_length=60, blank=True)
    found_at = models.DateTimeField(null=True)

    class Meta:
        ordering = ["lost_at", "pk"]
        constraints = [
            models.UniqueConstraint(
                fields=["copy"], condition=Q(found_at__isnull=True), name="lost_copy_is_in_one_case"
            ),
            models.CheckConstraint(
                condition=Q(found_at__isnull=True) | Q(found_at__gte=F("lost_at")),
                name="lost_copy_is_found_after_it_was_lost",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.copy} of {self.symbol}"


class CaseNote(Record):
    """What somebody wrote into a case: a note, who was told, a holder who was called."""

    class Kind(models.TextChoices):
        NOTE = "note", gettext_lazy("Note")
        TOLD = "told", gettext_lazy("Told")
        CALLED = "called", gettext_lazy("Called")

    case = models.ForeignKey(LossCase, on_delete=models.PROTECT, related_name="notes")
    kind = models.CharField(max_length=6, choices=Kind, default=Kind.NOTE)
    text = models.CharField(max_length=LONGEST_WORDS)
    holder = models.ForeignKey(Holder, on_delete=models.PROTECT, null=True, related_name="+")
    by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField(default=timezone.now)

    class Meta:
        ordering = ["at", "pk"]
        constraints = [
            models.CheckConstraint(condition=~Q(text=""), name="loss_note_says_something"),
            models.CheckConstraint(
                condition=Q(kind="called", holder__isnull=False)
                | (~Q(kind="called") & Q(holder__isnull=True)),
                name="loss_note_of_a_call_names_the_holder",
            ),
        ]

    def __str__(self) -> str:
        return self.text


class LossReport(Record):
    """Somebody says that they lost a key they hold; the desk confirms it, and then it is lost."""

    class State(models.TextChoices):
        WAITING = "waiting", gettext_lazy("Waits for the desk")
        CONFIRMED = "confirmed", gettext_lazy("Confirmed")
        REFUSED = "refused", gettext_lazy("Not a loss")

    copy = models.ForeignKey(KeyCopy, on_delete=models.PROTECT, related_name="loss_reports")
    holder = models.ForeignKey(Holder, on_delete=models.PROTECT, related_name="loss_reports")
    reported_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    reported_at = models.DateTimeField(default=timezone.now)
    where = models.CharField(max_length=200, blank=True)
    last_seen = models.CharField(max_length=120, blank=True)
    police_number = models.CharField(max_length=60, blank=True)
    told = models.CharField(max_length=200, blank=True)
    note = models.CharField(max_length=LONGEST_WORDS, blank=True)
    state = models.CharField(max_length=9, choices=State, default=State.WAITING)
    decided_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, related_name="+"
    )
    decided_at = models.DateTimeField(null=True)
    answer = models.CharField(max_length=LONGEST_WORDS, blank=True)
    case = models.ForeignKey(LossCase, on_delete=models.PROTECT, null=True, related_name="reports")

    class Meta:
        ordering = ["-reported_at", "pk"]
        constraints = [
            models.UniqueConstraint(
                fields=["copy"], condition=Q(state="waiting"), name="loss_of_a_copy_is_reported_once"
            ),
            models.CheckConstraint(
                condition=Q(state="waiting", decided_by__isnull=True, decided_at__isnull=True)
                | Q(state__in=["confirmed", "refused"], decided_by__isnull=False, decided_at__isnull=False),
                name="loss_report_decision_says_who_and_when",
            ),
            models.CheckConstraint(
                condition=Q(decided_by__isnull=True) | ~Q(decided_by=F("reported_by")),
                name="nobody_confirms_their_own_loss",
            ),
            models.CheckConstraint(
                condition=Q(case__isnull=True) | Q(state="confirmed"),
                name="loss_report_leads_to_a_case_once_confirmed",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.copy}, reported lost by {self.reported_by}"
