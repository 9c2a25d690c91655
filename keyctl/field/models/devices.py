"""Tablets that take work offline. Each proves itself by a secret of its own, of which a digest is kept."""

from typing import Self

from django.conf import settings
from django.db import models
from django.db.models import Q
from django.utils import timezone

from keyctl.lib.records import Record
from keyctl.places.models import Site


class DeviceQuerySet(models.QuerySet["Device"]):
    def with_names(self) -> Self:
        return self.select_related("site", "owner", "withdrawn_by")


class Device(Record):
    name = models.CharField(max_length=60)
    # Whose administrators look after it; what it tells may concern other sites as well.
    site = models.ForeignKey(Site, on_delete=models.PROTECT, related_name="devices")
    owner = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="devices")
    digest = models.CharField(max_length=64)
    registered_at = models.DateTimeField(default=timezone.now)
    withdrawn_at = models.DateTimeField(null=True)
    withdrawn_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, related_name="+"
    )
    withdrawn_reason = models.CharField(max_length=200, blank=True)

    # As it told when it was last heard of.
    seen_at = models.DateTimeField(null=True)
    unsent = models.PositiveIntegerField(default=0)
    skew_seconds = models.IntegerField(null=True)
    last_sequence = models.PositiveIntegerField(default=0)

    objects = DeviceQuerySet.as_manager()

    class Meta:
        ordering = ["name", "registered_at"]
        constraints = [
            models.CheckConstraint(condition=~Q(name=""), name="device_has_a_name"),
            models.CheckConstraint(
                condition=Q(withdrawn_at__isnull=True, withdrawn_by__isnull=True, withdrawn_reason="")
                | Q(withdrawn_at__isnull=False, withdrawn_by__isnull=False) & ~Q(withdrawn_reason=""),
                name="device_withdrawn_says_by_whom_and_why",
            ),
        ]
        indexes = [models.Index(fields=["site", "withdrawn_at"], name="device_by_site")]

    def __str__(self) -> str:
        return self.name

    @property
    def is_withdrawn(self) -> bool:
        return self.withdrawn_at is not None


class DeviceUser(Record):
    """Who has been signed in on a tablet: only of them it is believed that they wrote something on it."""

    device = models.ForeignKey(Device, on_delete=models.CASCADE, related_name="users")
    user = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    since = models.DateTimeField(default=timezone.now)

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["device", "user"], name="device_knows_a_user_once"),
        ]

    def __str__(self) -> str:
        return f"{self.user} on {self.device}"
