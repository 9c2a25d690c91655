"""Cut keys and the cabinets they hang in."""

from typing import Self

from django.conf import settings
from django.db import models
from django.db.models import Q
from django.utils import timezone
from django.utils.translation import gettext_lazy

from keyctl.keys.models.people import Holder
from keyctl.lib.records import Record
from keyctl.lib.tags import grouped, new_tag
from keyctl.places.models import Site
from keyctl.systems.models import KeySymbol


class Cabinet(Record):
    site = models.ForeignKey(Site, on_delete=models.PROTECT, related_name="cabinets")
    name = models.CharField(max_length=60)
    # Who answers for what hangs in it.
    custodian = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, blank=True, related_name="cabinets"
    )
    # On its label, which tells a stranger in front of it nothing.
    tag = models.CharField(max_length=16, default=new_tag)

    class Meta:
        ordering = ["site__code", "name"]
        constraints = [
            models.UniqueConstraint(fields=["site", "name"], name="cabinet_name_is_unique_in_its_site"),
            models.UniqueConstraint(fields=["tag"], name="cabinet_tag_is_unique"),
        ]

    def __str__(self) -> str:
        return self.name

    @property
    def code(self) -> str:
        """Its tag as it stands on the label."""
        return grouped(self.tag)


class KeyCopyQuerySet(models.QuerySet["KeyCopy"]):
    def at_sites(self, sites: "models.QuerySet[Site]") -> Self:
        return self.filter(site__in=sites)

    def with_names(self) -> Self:
        return self.select_related("symbol__system", "holder", "cabinet", "site")


class KeyCopy(Record):
    """One cut key. Its serial means nothing to a finder; its symbol is not stamped on it.

    ``custody`` is its open line of the register: there is one exactly as long as somebody holds it.
    """

    class State(models.TextChoices):
        HELD = "held", gettext_lazy("With a holder")
        IN_CABINET = "in-cabinet", gettext_lazy("In a cabinet")
        LOST = "lost", gettext_lazy("Lost")
        DESTROYED = "destroyed", gettext_lazy("Destroyed")

    class Condition(models.TextChoices):
        SOUND = "sound", gettext_lazy("Sound")
        BROKEN = "broken", gettext_lazy("Broken")

    symbol = models.ForeignKey(KeySymbol, on_delete=models.PROTECT, related_name="copies")
    site = models.ForeignKey(Site, on_delete=models.PROTECT, related_name="key_copies")
    serial = models.CharField(max_length=16, default=new_tag)
    # What is stamped on it where that is not the serial.
    stamp = models.CharField(max_length=24, blank=True)
    state = models.CharField(max_length=12, choices=State)
    condition = models.CharField(max_length=8, choices=Condition, default=Condition.SOUND)
    holder = models.ForeignKey(Holder, on_delete=models.PROTECT, null=True, related_name="copies")
    cabinet = models.ForeignKey(Cabinet, on_delete=models.PROTECT, null=True, related_name="copies")
    custody = models.OneToOneField(
        "keys.Custody", on_delete=models.PROTECT, null=True, related_name="copy_out"
    )
    cut_at = models.DateTimeField(default=timezone.now)
    version = models.PositiveIntegerField(default=1)

    objects = KeyCopyQuerySet.as_manager()

    class Meta:
        ordering = ["serial"]
        constraints = [
            models.UniqueConstraint(fields=["serial"], name="key_copy_serial_is_unique"),
            models.UniqueConstraint(
                fields=["site", "stamp"], condition=~Q(stamp=""), name="key_copy_stamp_is_unique_at_its_site"
            ),
            # The law: cut = with holders + in cabinets + lost + destroyed: a copy is in exactly one, and
            # the register has a line for it exactly as long as it is with a holder.
            models.CheckConstraint(
                condition=Q(state="held", holder__isnull=False, custody__isnull=False, cabinet__isnull=True)
                | Q(state="in-cabinet", holder__isnull=True, custody__isnull=True, cabinet__isnull=False)
                | Q(
                    state__in=["lost", "destroyed"],
                    holder__isnull=True,
                    custody__isnull=True,
                    cabinet__isnull=True,
                ),
                name="key_copy_is_in_exactly_one_state",
            ),
        ]
        indexes = [models.Index(fields=["site", "state"], name="key_copy_by_state")]

    def __str__(self) -> str:
        return grouped(self.serial)

    @property
    def is_broken(self) -> bool:
        return self.condition == self.Condition.BROKEN
