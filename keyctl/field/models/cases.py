"""Cases: stories that contradict the register, until a person says what is where."""

from typing import Self

from django.conf import settings
from django.db import models
from django.db.models import Q
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from keyctl.cores.models import Core
from keyctl.field.models.events import FieldEvent
from keyctl.lib.records import Record
from keyctl.places.models import Housing, Site


class ReconcileCaseQuerySet(models.QuerySet["ReconcileCase"]):
    def at_sites(self, sites: "models.QuerySet[Site]") -> Self:
        return self.filter(site__in=sites)

    def with_names(self) -> Self:
        return self.select_related("site", "settled_by", "merged_into")


class ReconcileCase(Record):
    class State(models.TextChoices):
        OPEN = "open", gettext_lazy("Open")
        SETTLED = "settled", gettext_lazy("Settled")
        # A later story touched two cases: the younger one goes on in the older.
        MERGED = "merged", gettext_lazy("Goes on in another case")

    number = models.PositiveIntegerField()
    site = models.ForeignKey(Site, on_delete=models.PROTECT, related_name="reconcile_cases")
    state = models.CharField(max_length=8, choices=State, default=State.OPEN)
    opened_at = models.DateTimeField(default=timezone.now)
    settled_at = models.DateTimeField(null=True)
    settled_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, related_name="+"
    )
    note = models.CharField(max_length=400, blank=True)
    merged_into = models.ForeignKey("self", on_delete=models.PROTECT, null=True, related_name="merged")

    objects = ReconcileCaseQuerySet.as_manager()

    class Meta:
        ordering = ["-number"]
        constraints = [
            models.UniqueConstraint(fields=["number"], name="reconcile_case_number_is_unique"),
            models.CheckConstraint(
                condition=Q(state="open", settled_at__isnull=True, settled_by__isnull=True, note="")
                | Q(state="merged", settled_at__isnull=True, settled_by__isnull=True, note="")
                | Q(state="settled", settled_at__isnull=False, settled_by__isnull=False) & ~Q(note=""),
                name="reconcile_case_settled_says_by_whom_and_why",
            ),
            models.CheckConstraint(
                condition=Q(state="merged", merged_into__isnull=False)
                | ~Q(state="merged") & Q(merged_into__isnull=True),
                name="reconcile_case_merged_says_into_which",
            ),
        ]
        indexes = [models.Index(fields=["site", "state", "-number"], name="reconcile_case_by_state")]

    def __str__(self) -> str:
        return _("case {number}").format(number=self.number)

    @property
    def is_open(self) -> bool:
        return self.state == self.State.OPEN


class CaseCore(Record):
    """A core that a case is about; once settled, where it really was."""

    case = models.ForeignKey(ReconcileCase, on_delete=models.CASCADE, related_name="case_cores")
    core = models.ForeignKey(Core, on_delete=models.PROTECT, related_name="+")
    is_open = models.BooleanField(default=True)
    decided = models.CharField(max_length=200, blank=True)

    class Meta:
        ordering = ["core__tag"]
        constraints = [
            models.UniqueConstraint(fields=["case", "core"], name="case_names_a_core_once"),
            models.UniqueConstraint(
                fields=["core"], condition=Q(is_open=True), name="core_stands_in_one_open_case"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.core} in {self.case}"


class CaseHousing(Record):
    """A housing of which two stories tell different things."""

    case = models.ForeignKey(ReconcileCase, on_delete=models.CASCADE, related_name="case_housings")
    housing = models.ForeignKey(Housing, on_delete=models.PROTECT, related_name="+")
    is_open = models.BooleanField(default=True)

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["case", "housing"], name="case_names_a_housing_once"),
            models.UniqueConstraint(
                fields=["housing"], condition=Q(is_open=True), name="housing_stands_in_one_open_case"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.housing} in {self.case}"


class CaseStory(Record):
    """What one event says, and what the register said when it arrived: kept for good, as it was told then."""

    case = models.ForeignKey(ReconcileCase, on_delete=models.CASCADE, related_name="stories")
    event = models.ForeignKey(FieldEvent, on_delete=models.PROTECT, related_name="stories")
    teller = models.CharField(max_length=240)
    claimed_at = models.DateTimeField()
    received_at = models.DateTimeField()
    skew_seconds = models.IntegerField(null=True)
    says = models.CharField(max_length=1000)
    register_said = models.CharField(max_length=1000)
    reason = models.CharField(max_length=600)

    class Meta:
        ordering = ["received_at", "claimed_at"]
        constraints = [
            models.UniqueConstraint(fields=["case", "event"], name="case_holds_a_story_once"),
        ]

    def __str__(self) -> str:
        return f"{self.teller}: {self.says}"
