"""Where cores go: site > building > floor > door > housing; and who may do what at which site."""

from typing import TYPE_CHECKING, Self

from django.conf import settings
from django.db import models
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from keyctl.lib.language import in_sentence
from keyctl.lib.records import Record
from keyctl.lib.tags import new_tag
from keyctl.places.constructions import construction_words
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
    label = models.CharField(max_length=40)
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


class Space(Record):
    """A room or a part of one, by its number on the plan. Most doors join two, an outer door has one."""

    floor = models.ForeignKey(Floor, on_delete=models.PROTECT, related_name="spaces")
    number = models.CharField(max_length=40)
    name = models.CharField(max_length=120, blank=True)

    class Meta:
        ordering = ["floor__building__site__code", "floor__building__code", "floor__level", "number"]
        constraints = [
            models.UniqueConstraint(fields=["floor", "number"], name="space_number_is_unique_on_its_floor"),
            models.CheckConstraint(condition=~models.Q(number=""), name="space_has_a_number"),
        ]

    def __str__(self) -> str:
        return f"{self.number} {self.name}".strip()

    @property
    def site(self) -> Site:
        return self.floor.building.site


class DoorQuerySet(models.QuerySet["Door"]):
    def at_sites(self, sites: "models.QuerySet[Site]") -> Self:
        return self.filter(floor__building__site__in=sites)

    def with_places(self) -> Self:
        return self.select_related("floor__building__site")


class Door(Record):
    """An opening in a wall. Its number is what stands on the door; its name is what people call the room."""

    class DoorClass(models.TextChoices):
        ORDINARY = "ordinary", gettext_lazy("Ordinary")
        RESTRICTED = "restricted", gettext_lazy("Restricted")
        CRITICAL = "critical", gettext_lazy("Critical")

    floor = models.ForeignKey(Floor, on_delete=models.PROTECT, related_name="doors")
    number = models.CharField(max_length=30)
    name = models.CharField(max_length=120, blank=True)
    door_class = models.CharField(max_length=12, choices=DoorClass, default=DoorClass.ORDINARY)
    is_egress = models.BooleanField(default=False)
    is_fire_rated = models.BooleanField(default=False)
    note = models.TextField(blank=True)
    spaces = models.ManyToManyField(Space, blank=True, related_name="doors")
    # What the door schedule calls its hardware ("HW-3"), and the rating it states ("60 min"). A stated rating
    # is a text that somebody once typed: only `is_fire_rated` says that the door is one.
    hardware_set = models.CharField(max_length=60, blank=True)
    fire_rating = models.CharField(max_length=60, blank=True)
    # The same of what a building model says it is for: "fire exit, accessible, external".
    stated_use = models.CharField(max_length=60, blank=True)
    # Of the door itself, as its maker or the owner marked it.
    serial_number = models.CharField(max_length=60, blank=True)
    asset_tag = models.CharField(max_length=60, blank=True)
    bar_code = models.CharField(max_length=60, blank=True)
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
    def unconfirmed(self) -> str:
        """What a schedule or a model states and nobody has confirmed, in words; mostly nothing."""
        rating = (
            _("a fire rating of {rating}").format(rating=self.fire_rating)
            if self.fire_rating and not self.is_fire_rated
            else ""
        )
        way_out = _("that it is a fire exit") if "fire exit" in self.stated_use and not self.is_egress else ""
        both = _("{rating} and {way_out}").format(rating=rating, way_out=way_out)
        return both if rating and way_out else rating or way_out

    @property
    def building(self) -> Building:
        return self.floor.building

    @property
    def site(self) -> Site:
        return self.floor.building.site


class Housing(Record):
    """The body on a door that takes one core: a door with a lock and a padlock on its hasp has two."""

    class Kind(models.TextChoices):
        MORTISE = "mortise", gettext_lazy("Mortise cylinder")
        RIM = "rim", gettext_lazy("Rim cylinder")
        LEVER = "lever", gettext_lazy("Lever or knob")
        PADLOCK = "padlock", gettext_lazy("Padlock")
        CABINET = "cabinet", gettext_lazy("Cabinet lock")
        SWITCH = "switch", gettext_lazy("Key switch")

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

    @property
    def construction_words(self) -> str:
        return construction_words(self.construction)

    def __str__(self) -> str:
        return f"{self.door}, {self.label or in_sentence(self.get_kind_display())}"


class Identifier(Record):
    """What another program calls a place, so that its next file finds the place again.

    ``source`` is the space of names in which ``value`` stands for one thing: "GlobalId" for identifiers that
    are the same in every program (ISO 16739), else the program's own name. ``system`` says which program's
    file it came with.
    """

    GLOBAL_ID = "GlobalId"

    class Kind(models.TextChoices):
        BUILDING = "building", gettext_lazy("Building")
        FLOOR = "floor", gettext_lazy("Floor")
        SPACE = "space", gettext_lazy("Space")
        DOOR = "door", gettext_lazy("Door")

    site = models.ForeignKey(Site, on_delete=models.PROTECT, related_name="identifiers")
    source = models.CharField(max_length=120)
    kind = models.CharField(max_length=12, choices=Kind)
    value = models.CharField(max_length=120)
    system = models.CharField(max_length=120, blank=True)
    # What the file calls it, where that is more than the number here ("Door 1A03").
    name = models.CharField(max_length=120, blank=True)
    building = models.ForeignKey(Building, on_delete=models.CASCADE, null=True, related_name="identifiers")
    floor = models.ForeignKey(Floor, on_delete=models.CASCADE, null=True, related_name="identifiers")
    space = models.ForeignKey(Space, on_delete=models.CASCADE, null=True, related_name="identifiers")
    door = models.ForeignKey(Door, on_delete=models.CASCADE, null=True, related_name="identifiers")

    class Meta:
        ordering = ["source", "value"]
        constraints = [
            models.UniqueConstraint(
                fields=["site", "source", "kind", "value"], name="identifier_names_one_place_of_its_site"
            ),
            models.CheckConstraint(
                condition=~models.Q(source="") & ~models.Q(value=""), name="identifier_says_what_and_whose"
            ),
            models.CheckConstraint(
                condition=models.Q(kind="building", building__isnull=False, floor=None, space=None, door=None)
                | models.Q(kind="floor", building=None, floor__isnull=False, space=None, door=None)
                | models.Q(kind="space", building=None, floor=None, space__isnull=False, door=None)
                | models.Q(kind="door", building=None, floor=None, space=None, door__isnull=False),
                name="identifier_is_of_one_place",
            ),
        ]
        indexes = [
            models.Index(
                fields=[kind], condition=models.Q(**{f"{kind}__isnull": False}), name=f"identifier_of_{kind}"
            )
            for kind in ("building", "floor", "space")
        ]

    def __str__(self) -> str:
        return f"{self.source} {self.value}"


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
        return _("{user}: {role} at {site}").format(
            user=self.user, role=self.get_role_display(), site=self.site
        )


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
