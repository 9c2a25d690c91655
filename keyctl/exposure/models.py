"""How exposed cores are: figures that follow from their pins, kept so that pages need not open the vault."""

from django.db import models
from django.db.models import F, Q
from django.utils import timezone
from django.utils.translation import gettext_lazy

from keyctl.cores.models import Core
from keyctl.lib.records import Record
from keyctl.places.models import Site
from keyctl.systems.models import KeySystem


class CoreExposure(Record):
    """One core's figures, of the pins that were put in at ``pinned_at``.

    They narrow down what is in a core, so only those who answer for it see them, and the API never. The
    moment of pinning is kept and not the core's version, which a move changes as well.
    """

    core = models.OneToOneField(Core, on_delete=models.CASCADE, related_name="exposure")
    pinned_at = models.DateTimeField()
    # Keys of the keyway that were tried for near misses.
    keys = models.PositiveIntegerField()
    # Bittings that turn it; legal ones that are no planned key; what they would be without the idle wafers.
    accepts = models.PositiveBigIntegerField()
    unplanned = models.PositiveBigIntegerField()
    needed = models.PositiveBigIntegerField()
    wafers = models.PositiveIntegerField()
    idle_wafers = models.PositiveIntegerField()
    trials = models.PositiveIntegerField()
    blanks = models.PositiveIntegerField()
    near_turning = models.PositiveIntegerField()
    near_withdrawing = models.PositiveIntegerField()
    # By master it is pinned for: [symbol, bittings, wafers] were it pinned without.
    without = models.JSONField(default=list)
    assessed_at = models.DateTimeField(default=timezone.now)

    class Meta:
        ordering = ["-accepts", "core"]
        indexes = [
            models.Index(fields=["-accepts"], name="exposure_by_accepts"),
            models.Index(
                fields=["-accepts"], condition=Q(near_withdrawing__gt=0), name="exposure_near_withdrawing"
            ),
        ]
        constraints = [
            models.CheckConstraint(
                condition=Q(unplanned__lte=F("accepts"), idle_wafers__lte=F("wafers")),
                name="core_exposure_is_part_of_the_whole",
            )
        ]

    def __str__(self) -> str:
        return f"exposure of {self.core}"

    @property
    def near(self) -> int:
        return self.near_turning + self.near_withdrawing

    @property
    def is_stale(self) -> bool:
        """Whether the core was pinned anew since."""
        return self.pinned_at != self.core.pinned_at


class IncidentalCount(Record):
    """How many legal bittings turn, or withdraw, some core of a scope and are no key of its keyway.

    The scope is a site's cores of one keyway and format, all cores of one system, or, with neither, all
    cores of that keyway and format on the estate.
    """

    class Line(models.TextChoices):
        OPERATING = "operating", gettext_lazy("Turn a core")
        CONTROL = "control", gettext_lazy("Take a core out")

    format_id = models.CharField(max_length=40)
    keyway = models.CharField(max_length=20)
    site = models.ForeignKey(Site, on_delete=models.CASCADE, null=True, related_name="+")
    system = models.ForeignKey(KeySystem, on_delete=models.CASCADE, null=True, related_name="+")
    line = models.CharField(max_length=10, choices=Line)
    # What was counted, to tell whether it has changed since.
    cores = models.PositiveIntegerField()
    keys = models.PositiveIntegerField()
    pinned_until = models.DateTimeField()
    number = models.PositiveBigIntegerField()
    low = models.PositiveBigIntegerField()
    high = models.PositiveBigIntegerField()
    counted_at = models.DateTimeField(default=timezone.now)

    class Meta:
        ordering = ["format_id", "keyway", "-line"]
        constraints = [
            models.UniqueConstraint(
                fields=["format_id", "keyway", "line"],
                condition=Q(site__isnull=True, system__isnull=True),
                name="incidental_count_of_a_keyway_is_kept_once",
            ),
            models.UniqueConstraint(
                fields=["site", "format_id", "keyway", "line"],
                condition=Q(site__isnull=False),
                name="incidental_count_of_a_site_is_kept_once",
            ),
            models.UniqueConstraint(
                fields=["system", "line"],
                condition=Q(system__isnull=False),
                name="incidental_count_of_a_system_is_kept_once",
            ),
            models.CheckConstraint(
                condition=Q(site__isnull=True) | Q(system__isnull=True),
                name="incidental_count_has_one_scope",
            ),
            models.CheckConstraint(
                condition=Q(low__lte=F("number"), number__lte=F("high")),
                name="incidental_count_lies_in_its_interval",
            ),
        ]

    def __str__(self) -> str:
        return f"incidental keys of {self.system or self.site or self.keyway}"

    @property
    def is_exact(self) -> bool:
        return self.low == self.high
