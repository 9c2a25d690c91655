"""Key copies and custody: every copy is with one holder, in one cabinet, lost or destroyed."""

from typing import Self

from django.conf import settings
from django.db import models
from django.db.models import Q
from django.utils import timezone

from keyctl.lib.records import Record
from keyctl.lib.tags import grouped, new_tag
from keyctl.places.models import Site
from keyctl.systems.models import KeySymbol


class Holder(Record):
    """Somebody keys are handed to; a holder need not be able to sign in."""

    site = models.ForeignKey(Site, on_delete=models.PROTECT, related_name="holders")
    name = models.CharField(max_length=120)
    email = models.EmailField(blank=True)
    user = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, blank=True, related_name="holders"
    )
    is_active = models.BooleanField(default=True)

    class Meta:
        ordering = ["name"]
        constraints = [
            models.UniqueConstraint(
                fields=["site", "user"],
                condition=Q(user__isnull=False),
                name="holder_stands_for_a_user_once_a_site",
            )
        ]

    def __str__(self) -> str:
        return self.name


class Cabinet(Record):
    site = models.ForeignKey(Site, on_delete=models.PROTECT, related_name="cabinets")
    name = models.CharField(max_length=60)

    class Meta:
        ordering = ["site__code", "name"]
        constraints = [
            models.UniqueConstraint(fields=["site", "name"], name="cabinet_name_is_unique_in_its_site")
        ]

    def __str__(self) -> str:
        return self.name


class KeyCopyQuerySet(models.QuerySet["KeyCopy"]):
    def at_sites(self, sites: "models.QuerySet[Site]") -> Self:
        return self.filter(site__in=sites)

    def with_names(self) -> Self:
        return self.select_related("symbol__system", "holder", "cabinet", "site")


class KeyCopy(Record):
    """One cut key. Its serial means nothing to a finder; its symbol is never stamped on it."""

    class State(models.TextChoices):
        HELD = "held", "With a holder"
        IN_CABINET = "in-cabinet", "In a cabinet"
        LOST = "lost", "Lost"
        DESTROYED = "destroyed", "Destroyed"

    symbol = models.ForeignKey(KeySymbol, on_delete=models.PROTECT, related_name="copies")
    site = models.ForeignKey(Site, on_delete=models.PROTECT, related_name="key_copies")
    serial = models.CharField(max_length=16, default=new_tag)
    state = models.CharField(max_length=12, choices=State)
    holder = models.ForeignKey(Holder, on_delete=models.PROTECT, null=True, related_name="copies")
    cabinet = models.ForeignKey(Cabinet, on_delete=models.PROTECT, null=True, related_name="copies")
    cut_at = models.DateTimeField(default=timezone.now)
    version = models.PositiveIntegerField(default=1)

    objects = KeyCopyQuerySet.as_manager()

    class Meta:
        ordering = ["serial"]
        constraints = [
            models.UniqueConstraint(fields=["serial"], name="key_copy_serial_is_unique"),
            # The law: cut = with holders + in cabinets + lost + destroyed: a copy is in exactly one.
            models.CheckConstraint(
                condition=Q(state="held", holder__isnull=False, cabinet__isnull=True)
                | Q(state="in-cabinet", holder__isnull=True, cabinet__isnull=False)
                | Q(state__in=["lost", "destroyed"], holder__isnull=True, cabinet__isnull=True),
                name="key_copy_is_in_exactly_one_state",
            ),
        ]
        indexes = [models.Index(fields=["site", "state"], name="key_copy_by_state")]

    def __str__(self) -> str:
        return grouped(self.serial)


class Custody(Record):
    """One line of the register: a copy out with a holder, and back."""

    copy = models.ForeignKey(KeyCopy, on_delete=models.PROTECT, related_name="custodies")
    holder = models.ForeignKey(Holder, on_delete=models.PROTECT, related_name="custodies")
    out_at = models.DateTimeField(default=timezone.now)
    handed_out_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    signed_as = models.CharField(max_length=120, blank=True)
    due_on = models.DateField(null=True)
    ended_at = models.DateTimeField(null=True)
    ended_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, related_name="+"
    )

    class Meta:
        ordering = ["-out_at"]
        constraints = [
            models.UniqueConstraint(
                fields=["copy"], condition=Q(ended_at__isnull=True), name="key_copy_is_out_with_one_holder"
            ),
            models.CheckConstraint(
                condition=Q(ended_at__isnull=True, ended_by__isnull=True)
                | Q(ended_at__isnull=False, ended_by__isnull=False),
                name="custody_end_says_who",
            ),
            models.CheckConstraint(
                condition=Q(ended_at__isnull=True) | Q(ended_at__gte=models.F("out_at")),
                name="custody_ends_after_it_began",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.copy} with {self.holder}"
