"""What lost keys open, core by core, and the rules that say when a rekey is due."""

from typing import Self

from django.conf import settings
from django.db import models
from django.db.models import F, Q
from django.utils import timezone
from django.utils.translation import gettext_lazy

from keyctl.cores.models import Core
from keyctl.lib.records import Record
from keyctl.losses.models.cases import LossCase
from keyctl.places.models import Building, Door, Housing, Site
from keyctl.systems.models import KeySymbol

MOST_PER_MILLE = 1000


class LossRule(Record):
    """For doors of one class at one site: which share of a door's key copies, lost, makes a rekey due.

    The share is lost copies in a thousand copies cut and not destroyed; 0 means that one copy suffices. A
    lost master or control key suffices in any class.
    """

    site = models.ForeignKey(Site, on_delete=models.PROTECT, related_name="loss_rules")
    door_class = models.CharField(max_length=12, choices=Door.DoorClass)
    share = models.PositiveSmallIntegerField()
    changed_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    changed_at = models.DateTimeField(default=timezone.now)

    class Meta:
        ordering = ["site__code", "door_class"]
        constraints = [
            models.UniqueConstraint(
                fields=["site", "door_class"], name="loss_rule_is_set_once_for_a_door_class"
            ),
            models.CheckConstraint(
                condition=Q(share__lte=MOST_PER_MILLE), name="loss_rule_share_is_at_most_all"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.get_door_class_display()}: {self.share} ‰"


class CaseDoorQuerySet(models.QuerySet["CaseDoor"]):
    def of(self, case: LossCase) -> Self:
        """The rows of the case's last look."""
        return self.filter(case=case, look=case.look)

    def exposed(self) -> Self:
        return self.filter(state=CaseDoor.State.EXPOSED)

    def with_places(self) -> Self:
        return self.select_related("core__system", "door__floor__building__site", "symbol__system", "site")


class CaseDoor(models.Model):
    """A core that a lost key turns or takes out, by its pins; where the core is in a door, that door.

    Rows of a case are written anew at each look; those of the last one count (``objects.of(case)``). What an
    earlier look found and the last one did not stays as cleared: the door that was exposed then.
    """

    class Route(models.TextChoices):
        """By what the lost key gets in; where several lost keys do, the first of these."""

        OWN = "own", gettext_lazy("Its own key")
        CROSS = "cross", gettext_lazy("Cross-keyed")
        MASTER = "master", gettext_lazy("A master above it")
        CONTROL = "control", gettext_lazy("Its control key")
        INCIDENTAL = "incidental", gettext_lazy("Not meant by the plan")

    class Why(models.TextChoices):
        MASTER = "master", gettext_lazy("A lost master, control key, or key that takes the core out suffices")
        CRITICAL = "critical", gettext_lazy("One copy suffices here")
        SHARE = "share", gettext_lazy("The share of lost copies is reached")
        BELOW = "below", gettext_lazy("The share is below the limit")
        FOUND = "found", gettext_lazy("The key is found")
        NO_DOOR = "no-door", gettext_lazy("Not in a door")

    class State(models.TextChoices):
        EXPOSED = "exposed", gettext_lazy("Exposed")
        CLEARED = "cleared", gettext_lazy("Cleared")

    case = models.ForeignKey(LossCase, on_delete=models.CASCADE, related_name="doors")
    look = models.PositiveIntegerField()
    # Its place in the order of sites, buildings, floors and doors; cores in no door come last.
    ordinal = models.PositiveIntegerField()
    core = models.ForeignKey(Core, on_delete=models.CASCADE, related_name="losses")
    housing = models.ForeignKey(Housing, on_delete=models.PROTECT, null=True, related_name="losses")
    door = models.ForeignKey(Door, on_delete=models.PROTECT, null=True, related_name="losses")
    door_class = models.CharField(max_length=12, choices=Door.DoorClass, blank=True)
    building = models.ForeignKey(Building, on_delete=models.PROTECT, null=True, related_name="+")
    site = models.ForeignKey(Site, on_delete=models.PROTECT, related_name="+")

    route = models.CharField(max_length=10, choices=Route)
    operates = models.BooleanField()
    withdraws = models.BooleanField()
    # The lost key of that route, and how many of the lost keys do something to the core.
    symbol = models.ForeignKey(KeySymbol, on_delete=models.PROTECT, related_name="+")
    keys = models.PositiveSmallIntegerField(default=1)

    # Copies of the change keys that turn it: lost and not found, and cut and not destroyed.
    lost = models.PositiveIntegerField(default=0)
    cut = models.PositiveIntegerField(default=0)
    share_lost = models.PositiveSmallIntegerField(default=0)
    share_due = models.PositiveSmallIntegerField(default=0)
    is_due = models.BooleanField()
    why = models.CharField(max_length=8, choices=Why)
    state = models.CharField(max_length=8, choices=State, default=State.EXPOSED)

    objects = CaseDoorQuerySet.as_manager()

    class Meta:
        ordering = ["case", "look", "ordinal"]
        indexes = [
            models.Index(fields=["case", "look", "is_due", "ordinal"], name="case_door_by_due"),
            models.Index(fields=["case", "look", "building", "ordinal"], name="case_door_by_building"),
            models.Index(fields=["site", "case", "look"], name="case_door_by_site"),
        ]
        constraints = [
            models.UniqueConstraint(
                fields=["case", "look", "core"],
                condition=Q(state="exposed"),
                name="case_tells_an_exposed_core_once_a_look",
            ),
            models.UniqueConstraint(
                fields=["case", "look", "housing"],
                condition=Q(housing__isnull=False),
                name="case_tells_a_housing_once_a_look",
            ),
            models.UniqueConstraint(
                fields=["case", "look", "ordinal"], name="case_door_has_its_own_place_in_a_look"
            ),
            models.CheckConstraint(
                condition=Q(operates=True) | Q(withdraws=True), name="case_door_has_an_effect"
            ),
            models.CheckConstraint(
                condition=Q(
                    housing__isnull=True,
                    door__isnull=True,
                    building__isnull=True,
                    door_class="",
                    is_due=False,
                )
                | (Q(housing__isnull=False, door__isnull=False, building__isnull=False) & ~Q(door_class="")),
                name="case_door_in_a_door_says_its_class",
            ),
            models.CheckConstraint(condition=Q(lost__lte=F("cut")), name="case_door_loses_no_more_than_cut"),
        ]

    def __str__(self) -> str:
        return str(self.door or self.core)
