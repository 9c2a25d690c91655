"""What goes from old keys to new ones, door by door, and the cores that go round."""

from typing import Self

from django.db import models
from django.db.models import F, Q
from django.utils.translation import gettext_lazy

from keyctl.cores.models import Core
from keyctl.lib.records import Record
from keyctl.places.models import Housing
from keyctl.rotations.models.rotations import Rotation, Wave
from keyctl.systems.models import KeySymbol


class RotationKey(Record):
    """What was keyed to the old key is keyed to the new one."""

    rotation = models.ForeignKey(Rotation, on_delete=models.CASCADE, related_name="keys")
    old = models.ForeignKey(KeySymbol, on_delete=models.PROTECT, related_name="+")
    new = models.ForeignKey(KeySymbol, on_delete=models.PROTECT, related_name="+")

    class Meta:
        ordering = ["rotation", "old__system__code", "old__symbol"]
        constraints = [
            models.UniqueConstraint(fields=["rotation", "old"], name="rotation_names_a_new_key_once"),
            models.CheckConstraint(condition=~Q(old=F("new")), name="rotation_changes_a_key"),
        ]

    def __str__(self) -> str:
        return f"{self.old} to {self.new}"


class RotationDoorQuerySet(models.QuerySet["RotationDoor"]):
    def to_do(self) -> Self:
        return self.filter(state__in=RotationDoor.TO_DO)

    def with_places(self) -> Self:
        return self.select_related(
            "housing__door__floor__building__site", "wave", "meant", "core_in", "core_out"
        )


class RotationDoor(Record):
    """One housing of the area. Whether its core is pinned already, the core itself says."""

    class State(models.TextChoices):
        WAITING = "waiting", gettext_lazy("To do")
        UNREACHED = "unreached", gettext_lazy("Not reached")
        SWAPPED = "swapped", gettext_lazy("Done")
        LEFT_OUT = "left_out", gettext_lazy("Left out")

    TO_DO = (State.WAITING, State.UNREACHED)

    rotation = models.ForeignKey(Rotation, on_delete=models.CASCADE, related_name="doors")
    housing = models.ForeignKey(Housing, on_delete=models.PROTECT, related_name="rotations")
    # The cores that fit and hold the same keys are of this format.
    format_id = models.CharField(max_length=40)
    wave = models.ForeignKey(Wave, on_delete=models.SET_NULL, null=True, related_name="doors")
    state = models.CharField(max_length=10, choices=State, default=State.WAITING)
    keys = models.ManyToManyField(RotationKey, related_name="doors")
    # What it shares a key by with other doors; empty where it has its keys for itself.
    together = models.CharField(max_length=60, blank=True)
    # The core that is pinned for it, what went in, and what came out.
    meant = models.ForeignKey(Core, on_delete=models.PROTECT, null=True, related_name="+")
    core_in = models.ForeignKey(Core, on_delete=models.PROTECT, null=True, related_name="+")
    core_out = models.ForeignKey(Core, on_delete=models.PROTECT, null=True, related_name="+")
    swapped_at = models.DateTimeField(null=True)
    # Why it was not reached, or is left out.
    reason = models.CharField(max_length=200, blank=True)
    # As long as the rotation runs: the database keeps a housing out of a second one.
    is_running = models.BooleanField(default=True)

    objects = RotationDoorQuerySet.as_manager()

    class Meta:
        ordering = [
            "rotation",
            "housing__door__floor__building__code",
            "housing__door__floor__level",
            "housing__door__number",
            "pk",
        ]
        constraints = [
            models.UniqueConstraint(
                fields=["housing"], condition=Q(is_running=True), name="housing_is_in_one_running_rotation"
            ),
            models.UniqueConstraint(fields=["rotation", "housing"], name="rotation_names_a_housing_once"),
            models.UniqueConstraint(
                fields=["meant"],
                condition=Q(is_running=True, meant__isnull=False, state__in=["waiting", "unreached"]),
                name="rotation_means_a_core_for_one_door",
            ),
            models.CheckConstraint(
                condition=Q(state="swapped", swapped_at__isnull=False, core_in__isnull=False)
                | (~Q(state="swapped") & Q(swapped_at__isnull=True)),
                name="rotation_door_done_says_when_and_what",
            ),
            models.CheckConstraint(
                condition=~Q(state__in=["unreached", "left_out"]) | ~Q(reason=""),
                name="rotation_door_not_done_says_why",
            ),
            models.CheckConstraint(
                condition=~Q(state="unreached") | Q(wave__isnull=False),
                name="rotation_door_is_unreached_in_a_wave",
            ),
        ]
        indexes = [models.Index(fields=["rotation", "state"], name="rotation_door_by_state")]

    def __str__(self) -> str:
        return str(self.housing)


class RotationCore(Record):
    """A core that goes round: given for the rotation, or come out of one of its doors."""

    class State(models.TextChoices):
        FREE = "free", gettext_lazy("At hand")
        SET_ASIDE = "set_aside", gettext_lazy("For a door")
        IN_DOOR = "in_door", gettext_lazy("In a door")
        COMING_BACK = "coming_back", gettext_lazy("To bring back")
        BROKEN = "broken", gettext_lazy("Broken or missing")

    # What still goes round; the rest is in its door for good, or no use.
    GOING_ROUND = (State.FREE, State.SET_ASIDE, State.COMING_BACK)

    rotation = models.ForeignKey(Rotation, on_delete=models.CASCADE, related_name="cores")
    core = models.ForeignKey(Core, on_delete=models.PROTECT, related_name="rotations")
    state = models.CharField(max_length=12, choices=State, default=State.FREE)
    # Given at the start: none. Otherwise the door it came out of, and when it was back at the bench.
    came_from = models.ForeignKey(RotationDoor, on_delete=models.CASCADE, null=True, related_name="came_out")
    back_at = models.DateTimeField(null=True)
    note = models.CharField(max_length=200, blank=True)
    is_running = models.BooleanField(default=True)

    class Meta:
        ordering = ["rotation", "core__tag"]
        constraints = [
            models.UniqueConstraint(
                fields=["core"], condition=Q(is_running=True), name="core_goes_round_in_one_rotation"
            ),
            models.CheckConstraint(
                condition=~Q(state="broken") | ~Q(note=""), name="core_out_of_a_rotation_says_why"
            ),
            models.CheckConstraint(
                condition=~Q(state="coming_back") | Q(back_at__isnull=True),
                name="core_to_bring_back_is_not_back",
            ),
        ]

    def __str__(self) -> str:
        return str(self.core)
