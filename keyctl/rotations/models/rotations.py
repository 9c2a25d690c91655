"""A rotation as a whole, and its waves."""

from typing import Self

from django.conf import settings
from django.db import models
from django.db.models import F, Q
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from keyctl.lib.records import Record
from keyctl.orders.models import WorkOrder
from keyctl.places.models import Site

MOST_PEOPLE = 50
MOST_HOURS = 24


class RotationQuerySet(models.QuerySet["Rotation"]):
    def at_sites(self, sites: "models.QuerySet[Site]") -> Self:
        return self.filter(site__in=sites)

    def with_names(self) -> Self:
        return self.select_related("site", "started_by", "ended_by", "umbrella")


class Rotation(Record):
    """Doors of one site that get other keys, with few spare cores, in waves.

    ``version`` counts acts of people on the whole; ``plan_version`` counts plans, so that a plan worked out
    for what has changed since is not kept.
    """

    class State(models.TextChoices):
        PLANNED = "planned", gettext_lazy("Being planned")
        WORKING = "working", gettext_lazy("Under way")
        PAUSED = "paused", gettext_lazy("Paused")
        DONE = "done", gettext_lazy("Done")
        CANCELLED = "cancelled", gettext_lazy("Cancelled")

    RUNNING = (State.PLANNED, State.WORKING, State.PAUSED)

    number = models.PositiveIntegerField()
    site = models.ForeignKey(Site, on_delete=models.PROTECT, related_name="rotations")
    title = models.CharField(max_length=120)
    state = models.CharField(max_length=10, choices=State, default=State.PLANNED)
    umbrella = models.OneToOneField(WorkOrder, on_delete=models.PROTECT, null=True, related_name="rotation")

    # For how many days somebody may have to carry an old and a new key for the same doors.
    allowed_days = models.PositiveSmallIntegerField(null=True)
    people = models.PositiveSmallIntegerField(default=1)
    hours_a_day = models.PositiveSmallIntegerField(default=7)
    bench_minutes = models.PositiveSmallIntegerField(default=8)

    # Of the last plan: the waves still to come when it was made, their visits and what no plan goes below.
    planned_at = models.DateTimeField(null=True)
    visits = models.PositiveIntegerField(default=0)
    fewest_visits = models.PositiveIntegerField(default=0)
    # Why there is no plan, or why the allowed time does not hold, with the remedy.
    plan_words = models.CharField(max_length=400, blank=True)
    plan_version = models.PositiveIntegerField(default=1)

    started_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    started_at = models.DateTimeField(default=timezone.now)
    ended_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, related_name="+"
    )
    ended_at = models.DateTimeField(null=True)
    outcome = models.CharField(max_length=400, blank=True)
    version = models.PositiveIntegerField(default=1)

    objects = RotationQuerySet.as_manager()

    class Meta:
        ordering = ["-number"]
        constraints = [
            models.UniqueConstraint(fields=["number"], name="rotation_number_is_unique"),
            models.CheckConstraint(
                condition=Q(state="planned", umbrella__isnull=True)
                | Q(state__in=["working", "paused", "done"], umbrella__isnull=False)
                | Q(state="cancelled"),
                name="rotation_has_an_order_once_it_is_accepted",
            ),
            models.CheckConstraint(
                condition=Q(
                    state__in=["planned", "working", "paused"], ended_at__isnull=True, ended_by__isnull=True
                )
                | (
                    Q(state__in=["done", "cancelled"], ended_at__isnull=False, ended_by__isnull=False)
                    & ~Q(outcome="")
                ),
                name="rotation_end_says_who_and_how",
            ),
            models.CheckConstraint(
                condition=Q(people__gte=1, people__lte=MOST_PEOPLE)
                & Q(hours_a_day__gte=1, hours_a_day__lte=MOST_HOURS),
                name="rotation_has_a_crew_that_works",
            ),
            models.CheckConstraint(
                condition=Q(allowed_days__isnull=True) | Q(allowed_days__gte=1),
                name="rotation_allows_a_day_at_least",
            ),
            models.CheckConstraint(
                condition=Q(fewest_visits__lte=F("visits")), name="rotation_plan_is_not_below_its_bound"
            ),
        ]
        indexes = [models.Index(fields=["site", "state", "-number"], name="rotation_by_state")]

    def __str__(self) -> str:
        return _("Rotation {number}").format(number=self.number)

    @property
    def is_running(self) -> bool:
        return self.state in self.RUNNING

    @property
    def gap(self) -> float:
        """How far the plan's visits are above the bound, in per cent of it."""
        return 100 * (self.visits - self.fewest_visits) / self.fewest_visits if self.fewest_visits else 0.0


class Wave(Record):
    """One round: cores are pinned, swapped in, and those that came out are brought back."""

    class State(models.TextChoices):
        PLANNED = "planned", gettext_lazy("To come")
        BEGUN = "begun", gettext_lazy("Under way")
        DONE = "done", gettext_lazy("Done")

    rotation = models.ForeignKey(Rotation, on_delete=models.CASCADE, related_name="waves")
    ordinal = models.PositiveSmallIntegerField()
    state = models.CharField(max_length=8, choices=State, default=State.PLANNED)
    # None where every core of the wave held its pins already.
    pin_order = models.OneToOneField(WorkOrder, on_delete=models.PROTECT, null=True, related_name="pins_of")
    swap_order = models.OneToOneField(WorkOrder, on_delete=models.PROTECT, null=True, related_name="swaps_of")
    begun_at = models.DateTimeField(null=True)
    done_at = models.DateTimeField(null=True)

    class Meta:
        ordering = ["rotation", "ordinal"]
        constraints = [
            models.UniqueConstraint(fields=["rotation", "ordinal"], name="wave_has_its_own_place"),
            models.UniqueConstraint(
                fields=["rotation"], condition=Q(state="begun"), name="rotation_has_one_wave_under_way"
            ),
            models.CheckConstraint(
                condition=Q(
                    state="planned", swap_order__isnull=True, pin_order__isnull=True, begun_at__isnull=True
                )
                | Q(state__in=["begun", "done"], swap_order__isnull=False, begun_at__isnull=False),
                name="wave_under_way_has_its_orders",
            ),
            models.CheckConstraint(
                condition=Q(state="done", done_at__isnull=False)
                | (~Q(state="done") & Q(done_at__isnull=True)),
                name="wave_done_says_when",
            ),
        ]

    def __str__(self) -> str:
        return _("Wave {ordinal}").format(ordinal=self.ordinal)
