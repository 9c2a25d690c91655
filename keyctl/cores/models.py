"""Cores: what each is keyed to, how it is pinned (sealed), where it is, and which keys turn it."""

from typing import Self

from django.conf import settings
from django.db import models
from django.db.models import Q
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy, pgettext

from keyctl.lib.records import Record
from keyctl.lib.tags import grouped, new_tag
from keyctl.places.models import Housing, Site
from keyctl.systems.models import KeySymbol, KeySystem
from keyctl.vault.fields import SealedField


class CoreQuerySet(models.QuerySet["Core"]):
    def at_sites(self, sites: "models.QuerySet[Site]") -> Self:
        return self.filter(site__in=sites)

    def with_places(self) -> Self:
        return self.select_related("site", "system", "housing__door__floor__building__site", "carrier")


class Core(Record):
    """One interchangeable core or cylinder, known by the opaque tag it carries."""

    class Place(models.TextChoices):
        HOUSING = "housing", gettext_lazy("In a housing")
        SHELF = "shelf", gettext_lazy("On the shelf")
        BENCH = "bench", gettext_lazy("On the bench")
        CASE = "case", gettext_lazy("In a person's case")
        GONE = "gone", gettext_lazy("Gone")

    tag = models.CharField(max_length=16, default=new_tag)
    site = models.ForeignKey(Site, on_delete=models.PROTECT, related_name="cores")
    system = models.ForeignKey(KeySystem, on_delete=models.PROTECT, null=True, related_name="cores")
    format_id = models.CharField(max_length=40)
    construction = models.CharField(max_length=30)

    place = models.CharField(max_length=8, choices=Place, default=Place.SHELF)
    housing = models.ForeignKey(Housing, on_delete=models.PROTECT, null=True, related_name="cores")
    carrier = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, related_name="+"
    )

    pinning = SealedField(null=True)
    pinned_at = models.DateTimeField(null=True)
    pinned_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, related_name="+"
    )
    version = models.PositiveIntegerField(default=1)

    # Since when what was told of it contradicts the register, and the case in which that is settled.
    disputed_at = models.DateTimeField(null=True)
    disputed_over = models.CharField(max_length=40, blank=True, default="")

    keyed_to = models.ManyToManyField(KeySymbol, through="Keying", related_name="cores")

    objects = CoreQuerySet.as_manager()

    class Meta:
        ordering = ["tag"]
        constraints = [
            models.UniqueConstraint(fields=["tag"], name="core_tag_is_unique"),
            models.UniqueConstraint(
                fields=["housing"], condition=Q(housing__isnull=False), name="housing_holds_at_most_one_core"
            ),
            models.CheckConstraint(
                condition=Q(place="housing", housing__isnull=False, carrier__isnull=True)
                | Q(place="case", housing__isnull=True, carrier__isnull=False)
                | Q(place__in=["shelf", "bench", "gone"], housing__isnull=True, carrier__isnull=True),
                name="core_is_in_exactly_one_place",
            ),
            models.CheckConstraint(
                condition=Q(pinning__isnull=True, pinned_at__isnull=True, pinned_by__isnull=True)
                | Q(pinning__isnull=False, pinned_at__isnull=False, pinned_by__isnull=False),
                name="core_pinning_says_who_and_when",
            ),
            models.CheckConstraint(
                condition=Q(disputed_at__isnull=True, disputed_over="")
                | Q(disputed_at__isnull=False) & ~Q(disputed_over=""),
                name="core_dispute_names_its_case",
            ),
        ]
        indexes = [models.Index(fields=["site", "place"], name="core_by_place")]

    def __str__(self) -> str:
        return grouped(self.tag)

    @property
    def is_pinned(self) -> bool:
        return self.pinning is not None

    @property
    def is_disputed(self) -> bool:
        return self.disputed_at is not None

    @property
    def whereabouts(self) -> str:
        """Where it is, in words that follow "the core is"."""
        if self.housing:
            return _("in {housing}").format(housing=self.housing)
        if self.carrier:
            return _("in the case of {carrier}").format(carrier=self.carrier)
        words = {
            self.Place.HOUSING: pgettext("the core is", "in a housing"),
            self.Place.SHELF: pgettext("the core is", "on the shelf"),
            self.Place.BENCH: pgettext("the core is", "on the bench"),
            self.Place.CASE: pgettext("the core is", "in a person's case"),
            self.Place.GONE: pgettext("the core is", "gone"),
        }
        return words[self.Place(self.place)]


class Keying(Record):
    """The plan: a core is keyed to a symbol, and so to every master above it. Cross keying names several."""

    core = models.ForeignKey(Core, on_delete=models.CASCADE, related_name="keyings")
    symbol = models.ForeignKey(KeySymbol, on_delete=models.PROTECT, related_name="keyings")
    # A proof asks whether the plan changed after the core was pinned; not known of older rows.
    made_at = models.DateTimeField(null=True, default=timezone.now)

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["core", "symbol"], name="core_is_keyed_to_a_symbol_once")
        ]

    def __str__(self) -> str:
        return f"{self.core} keyed to {self.symbol}"


class Turn(Record):
    """What the pins say: this key turns this core's plug, or withdraws the core.

    Worked out from the pins by the engine, never from the plan; rows exist only where something turns.
    """

    core = models.ForeignKey(Core, on_delete=models.CASCADE, related_name="turns")
    # The index that begins with it serves it: the cores of one key, in order.
    symbol = models.ForeignKey(KeySymbol, on_delete=models.CASCADE, related_name="turns", db_index=False)
    operates = models.BooleanField()
    withdraws = models.BooleanField()

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["core", "symbol"], name="turn_is_stored_once"),
            models.CheckConstraint(condition=Q(operates=True) | Q(withdraws=True), name="turn_has_an_effect"),
        ]
        indexes = [models.Index(fields=["symbol", "core"], name="turn_by_key")]

    def __str__(self) -> str:
        return f"{self.symbol} on {self.core}"
