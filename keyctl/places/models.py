"""Where cores go: site > building > floor > door > housing; and who may do what at which site."""

from typing import TYPE_CHECKING, Self

from django.conf import settings
from django.db import models

from keyctl.lib.records import Record
from keyctl.lib.tags import new_tag
from keyctl.places.roles import Role

if TYPE_CHECKING:
    from keyctl.accounts.models import User


class SiteQuerySet(models.QuerySet["Site"]):
    def for_roles(self, actor: "User", *roles: Role) -> Self:
        """The sites at which the actor holds one of the roles (any role where none is named)."""
        memberships = Membership.objects.filter(user=actor)
        if roles:
            memberships = memberships.filter(role__in=roles)
        return self.filter(pk__in=memberships.values("site"))


class Site(Record):
    code = models.CharField(max_length=12)
    name = models.CharField(max_length=120)

    objects = SiteQuerySet.as_manager()

    class Meta:
        ordering = ["code"]
        constraints = [models.UniqueConstraint(fields=["code"], name="site_code_is_unique")]

    def __str__(self) -> str:
        return self.name


class Building(Record):
    site = models.ForeignKey(Site, on_delete=models.PROTECT, related_name="buildings")
    code = models.CharField(max_length=12)
    name = models.CharField(max_length=120)

    class Meta:
        ordering = ["site__code", "code"]
        constraints = [
            models.UniqueConstraint(fields=["site", "code"], name="building_code_is_unique_in_its_site")
        ]

    def __str__(self) -> str:
        return self.name


class Floor(Record):
    building = models.ForeignKey(Building, on_delete=models.PROTECT, related_name="floors")
    label = models.CharField(max_length=20)
    level = models.SmallIntegerField()

    class Meta:
        ordering = ["building__site__code", "building__code", "level"]
        constraints = [
            models.UniqueConstraint(
                fields=["building", "label"], name="floor_label_is_unique_in_its_building"
            )
        ]

    def __str__(self) -> str:
        return self.label


class DoorQuerySet(models.QuerySet["Door"]):
    def at_sites(self, sites: "models.QuerySet[Site]") -> Self:
        return self.filter(floor__building__site__in=sites)

    def with_places(self) -> Self:
        return self.select_related("floor__building__site")


class Door(Record):
    """An opening in a wall. Its number is what stands on the door; its name is what people call the room."""

    class DoorClass(models.TextChoices):
        ORDINARY = "ordinary", "Ordinary"
        RESTRICTED = "restricted", "Restricted"
        CRITICAL = "critical", "Critical"

    floor = models.ForeignKey(Floor, on_delete=models.PROTECT, related_name="doors")
    number = models.CharField(max_length=30)
    name = models.CharField(max_length=120, blank=True)
    door_class = models.CharField(max_length=12, choices=DoorClass, default=DoorClass.ORDINARY)
    is_egress = models.BooleanField(default=False)
    is_fire_rated = models.BooleanField(default=False)
    note = models.TextField(blank=True)
    # On the label that is scanned at the door; it tells a finder of the label nothing.
    tag = models.CharField(max_length=16, default=new_tag)

    objects = DoorQuerySet.as_manager()

    class Meta:
        ordering = ["floor__building__site__code", "floor__building__code", "floor__level", "number"]
        constraints = [
            models.UniqueConstraint(fields=["floor", "number"], name="door_number_is_unique_on_its_floor"),
            models.UniqueConstraint(fields=["tag"], name="door_tag_is_unique"),
            models.CheckConstraint(
                condition=models.Q(door_class__in=["ordinary", "restricted", "critical"]),
                name="door_class_is_known",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.building.code} {self.number}"

    @property
    def building(self) -> Building:
        return self.floor.building

    @property
    def site(self) -> Site:
        return self.floor.building.site


class Housing(Record):
    """The body on a door that takes one core: a door with a lock and a padlock on its hasp has two."""

    class Kind(models.TextChoices):
        MORTISE = "mortise", "Mortise cylinder"
        RIM = "rim", "Rim cylinder"
        LEVER = "lever", "Lever or knob"
        PADLOCK = "padlock", "Padlock"
        CABINET = "cabinet", "Cabinet lock"
        SWITCH = "switch", "Key switch"

    door = models.ForeignKey(Door, on_delete=models.PROTECT, related_name="housings")
    kind = models.CharField(max_length=12, choices=Kind)
    # Which cores fit: the construction a core format names ("small-format", "ordinary").
    construction = models.CharField(max_length=30)
    label = models.CharField(max_length=60, blank=True)

    class Meta:
        ordering = ["door", "kind", "label"]
        constraints = [
            models.UniqueConstraint(
                fields=["door", "kind", "label"], name="housing_is_told_apart_on_its_door"
            )
        ]

    def __str__(self) -> str:
        return f"{self.door}, {self.label or self.get_kind_display().lower()}"


class Membership(Record):
    """A role granted at one site."""

    user = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.CASCADE, related_name="memberships")
    site = models.ForeignKey(Site, on_delete=models.CASCADE, related_name="memberships")
    role = models.CharField(max_length=20, choices=Role)

    class Meta:
        ordering = ["site__code", "role"]
        constraints = [
            models.UniqueConstraint(fields=["user", "site", "role"], name="membership_is_granted_once"),
            models.CheckConstraint(condition=models.Q(role__in=Role.values), name="membership_role_is_known"),
        ]

    def __str__(self) -> str:
        return f"{self.user}: {self.get_role_display()} at {self.site}"


class BuildingManager(Record):
    """Who decides requests for a building."""

    building = models.ForeignKey(Building, on_delete=models.CASCADE, related_name="managers")
    user = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.CASCADE, related_name="managed_buildings"
    )

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["building", "user"], name="building_manager_is_named_once")
        ]

    def __str__(self) -> str:
        return f"{self.user} manages {self.building}"
