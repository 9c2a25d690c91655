"""A key system: its tree of key symbols, each with a sealed bitting."""

from typing import Self

from django.conf import settings
from django.db import models
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from keyctl.engine import MOST_LEVELS
from keyctl.lib.records import Record
from keyctl.places.models import Site
from keyctl.vault.fields import SealedField


class KeySystemQuerySet(models.QuerySet["KeySystem"]):
    def at_sites(self, sites: "models.QuerySet[Site]") -> Self:
        return self.filter(sites__in=sites).distinct()


class KeySystem(Record):
    """Keys that belong together: one core format, one keyway, one top master or several.

    The parameters that every bitting follows from (top master, array, positions of each level, control)
    are as secret as a bitting and sealed in ``design``. A system that was charted or brought in has none.
    """

    sites = models.ManyToManyField(Site, related_name="key_systems")
    code = models.CharField(max_length=20)
    name = models.CharField(max_length=120)
    format_id = models.CharField(max_length=40)
    keyway = models.CharField(max_length=20)
    levels = models.PositiveSmallIntegerField()
    design = SealedField(null=True)
    created_at = models.DateTimeField(default=timezone.now)
    created_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")

    objects = KeySystemQuerySet.as_manager()

    class Meta:
        ordering = ["code"]
        constraints = [
            models.UniqueConstraint(fields=["code"], name="key_system_code_is_unique"),
            models.CheckConstraint(
                condition=models.Q(levels__gte=1, levels__lte=MOST_LEVELS),
                name="key_system_has_one_to_six_levels",
            ),
        ]

    def __str__(self) -> str:
        return self.name


class KeySymbol(Record):
    """One distinct key of a system, named by its symbol; copies of it are cut and handed out."""

    class Kind(models.TextChoices):
        MASTER = "master", gettext_lazy("Master key")
        CHANGE = "change", gettext_lazy("Change key")
        CONTROL = "control", gettext_lazy("Control key")

    class Origin(models.TextChoices):
        DESIGNED = "designed", gettext_lazy("Designed with the system")
        EXTENDED = "extended", gettext_lazy("Next free change")
        BROUGHT_IN = "brought-in", gettext_lazy("Brought in from a list")
        CHARTED = "charted", gettext_lazy("Worked out from a lock chart")
        REPLACED = "replaced", gettext_lazy("In the place of a lost key")

    system = models.ForeignKey(KeySystem, on_delete=models.PROTECT, related_name="symbols")
    parent = models.ForeignKey("self", on_delete=models.PROTECT, null=True, related_name="children")
    kind = models.CharField(max_length=10, choices=Kind)
    symbol = models.CharField(max_length=20)
    # 0 is a top key, which stands under none; the control key stands outside the levels.
    level = models.PositiveSmallIntegerField(null=True)
    # Its place among the keys under the same parent, as its symbol numbers them: AA1 has 0.
    ordinal = models.PositiveIntegerField(default=0)
    origin = models.CharField(max_length=12, choices=Origin, default=Origin.DESIGNED)
    created_at = models.DateTimeField(default=timezone.now)
    # After a loss: never cut again, and no core is pinned to it any more. It is still tried on every core.
    retired_at = models.DateTimeField(null=True)
    # How many keys of the progression fit right below it, used or not; null where no progression says so.
    room = models.PositiveBigIntegerField(null=True)
    bitting = SealedField()
    # Keyed digest of the bitting: no two symbols of a system are the same key.
    fingerprint = models.CharField(max_length=64)

    class Meta:
        ordering = ["system__code", "level", "ordinal", "symbol"]
        constraints = [
            models.UniqueConstraint(fields=["system", "symbol"], name="key_symbol_is_unique_in_its_system"),
            models.UniqueConstraint(
                fields=["system", "kind", "fingerprint"], name="key_symbol_has_its_own_bitting"
            ),
            models.UniqueConstraint(
                fields=["parent", "kind", "ordinal"],
                condition=models.Q(parent__isnull=False),
                name="key_symbol_has_its_own_place_under_its_parent",
            ),
            models.CheckConstraint(
                condition=models.Q(kind="control", level__isnull=True, parent__isnull=True)
                | models.Q(kind__in=["master", "change"], level=0, parent__isnull=True)
                | models.Q(kind__in=["master", "change"], level__gt=0, parent__isnull=False),
                name="key_symbol_stands_in_the_tree",
            ),
        ]
        indexes = [models.Index(fields=["system", "level", "ordinal"], name="symbol_by_level")]

    def __str__(self) -> str:
        return self.symbol

    @property
    def is_master(self) -> bool:
        return self.kind == self.Kind.MASTER

    @property
    def is_control(self) -> bool:
        return self.kind == self.Kind.CONTROL

    @property
    def is_retired(self) -> bool:
        return self.retired_at is not None


class SystemDraft(Record):
    """A key system that is being thought through: drawn once, sealed, with no key made yet.

    ``asked`` is what its designer typed and ``design`` what was drawn for it; both are as secret as a
    bitting. ``rooms`` and ``facts`` are the figures that its page shows.
    """

    sites = models.ManyToManyField(Site, related_name="system_drafts")
    code = models.CharField(max_length=20)
    name = models.CharField(max_length=120)
    format_id = models.CharField(max_length=40)
    keyway = models.CharField(max_length=20)
    needs = models.JSONField()
    rooms = models.JSONField()
    facts = models.JSONField()
    asked = SealedField()
    design = SealedField()
    created_at = models.DateTimeField(default=timezone.now)
    created_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    # Once the keys are being made the draft is done with.
    system = models.OneToOneField(KeySystem, on_delete=models.PROTECT, null=True, related_name="draft")
    made_at = models.DateTimeField(null=True)

    class Meta:
        ordering = ["-created_at"]
        constraints = [
            models.UniqueConstraint(
                fields=["code"], condition=models.Q(made_at__isnull=True), name="open_draft_has_its_own_code"
            ),
            models.CheckConstraint(
                condition=models.Q(made_at__isnull=True) | models.Q(system__isnull=False),
                name="made_draft_has_its_system",
            ),
        ]

    def __str__(self) -> str:
        return _("{name} (draft)").format(name=self.name)
