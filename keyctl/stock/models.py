"""Loose pins on the bench: one bin per site, kit, role and size, and every movement in and out of it."""

from typing import Self

from django.conf import settings
from django.db import models
from django.db.models import Q
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy, pgettext_lazy

from keyctl.audit.models import AppendOnly, AppendOnlyQuerySet
from keyctl.lib.language import Text
from keyctl.lib.records import Record
from keyctl.places.models import Site


class PinRole(models.TextChoices):
    """The order of a column of pins from the key upwards."""

    BOTTOM = "bottom", gettext_lazy("Bottom pins")
    MASTER = "master", gettext_lazy("Master pins")
    CONTROL = "control", gettext_lazy("Control pins")
    TOP = "top", gettext_lazy("Top pins")

    @property
    def heading(self) -> Text:
        """Over a column of figures, where it goes without saying that they are pins."""
        return {
            PinRole.BOTTOM: pgettext_lazy("pins", "Bottom"),
            PinRole.MASTER: pgettext_lazy("pins", "Master"),
            PinRole.CONTROL: pgettext_lazy("pins", "Control"),
            PinRole.TOP: pgettext_lazy("pins", "Top"),
        }[self]


class PinBinQuerySet(models.QuerySet["PinBin"]):
    def at_sites(self, sites: "models.QuerySet[Site]") -> Self:
        return self.filter(site__in=sites)


class PinBin(Record):
    """Pins of one role and size. Where a role's chips fit another role too, the bins stay apart all the same.

    ``count`` is unknown (null) until somebody has counted; from then on it is the sum of the bin's movements.
    """

    site = models.ForeignKey(Site, on_delete=models.PROTECT, related_name="pin_bins")
    # Which formats share these pins: see families.
    family = models.CharField(max_length=12)
    role = models.CharField(max_length=8, choices=PinRole)
    size = models.PositiveSmallIntegerField()
    count = models.IntegerField(null=True)
    # The bin is low at this number and below.
    low_at = models.PositiveIntegerField(default=0)
    # More was used than the records held: only a count tells what is there.
    is_doubtful = models.BooleanField(default=False)
    version = models.PositiveIntegerField(default=1)

    objects = PinBinQuerySet.as_manager()

    class Meta:
        ordering = ["family", "role", "size"]
        constraints = [
            models.UniqueConstraint(
                fields=["site", "family", "role", "size"], name="pin_bin_is_one_per_role_and_size"
            ),
            models.CheckConstraint(
                condition=Q(count__isnull=True) | Q(count__gte=0), name="pin_bin_holds_no_less_than_nothing"
            ),
            models.CheckConstraint(
                condition=Q(is_doubtful=False) | Q(count__isnull=False), name="pin_bin_in_doubt_was_counted"
            ),
        ]

    def __str__(self) -> str:
        return _("{pins} of size {size}").format(pins=self.get_role_display(), size=self.size)

    @property
    def is_low(self) -> bool:
        return self.count is not None and self.count <= self.low_at


class PinMoveQuerySet(AppendOnlyQuerySet["PinMove"]):
    """Named, so that the type checker finds it."""


class PinMove(AppendOnly, Record):
    """One movement. The changes of a counted bin add up to its count, so the first count also makes up for
    what was moved before anybody had counted."""

    class Reason(models.TextChoices):
        COUNTED = "counted", gettext_lazy("Counted")
        BOUGHT = "bought", gettext_lazy("Bought")
        USED = "used", gettext_lazy("Used")
        RETURNED = "returned", gettext_lazy("Put back")
        SCRAPPED = "scrapped", gettext_lazy("Thrown away")
        DISCREPANCY = "discrepancy", gettext_lazy("More used than recorded")

    bin = models.ForeignKey(PinBin, on_delete=models.PROTECT, related_name="moves")
    change = models.IntegerField()
    reason = models.CharField(max_length=12, choices=Reason)
    order = models.CharField(max_length=40, blank=True)
    note = models.CharField(max_length=200, blank=True)
    at = models.DateTimeField(default=timezone.now)
    by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")

    objects = PinMoveQuerySet.as_manager()

    class Meta:
        ordering = ["-at", "-id"]
        constraints = [
            models.CheckConstraint(
                condition=Q(reason="counted")
                | Q(reason__in=["bought", "returned", "discrepancy"], change__gt=0)
                | Q(reason__in=["used", "scrapped"], change__lt=0),
                name="pin_move_goes_the_way_its_reason_says",
            ),
        ]
        indexes = [models.Index(fields=["bin", "-at"], name="pin_move_by_bin")]

    def __str__(self) -> str:
        return f"{self.get_reason_display()} {self.change:+d}: {self.bin}"
