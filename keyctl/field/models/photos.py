"""Photos taken at doors: what the picture is, and where it belongs. The two arrive in any order."""

import uuid
from typing import Self

from django.conf import settings
from django.db import models
from django.db.models import Q
from django.utils import timezone

from keyctl.orders.models import OrderLine
from keyctl.places.models import Door, Site
from keyctl.vault.fields import SealedField

LONGEST_CAPTION = 200


class FieldPhotoQuerySet(models.QuerySet["FieldPhoto"]):
    def to_look_at(self) -> Self:
        """Those that came and belong somewhere, without the sealed picture itself."""
        placed = self.filter(received_at__isnull=False, door__isnull=False)
        return placed.select_related("site", "taken_by", "door__floor__building__site", "line__order").defer(
            "content"
        )


class FieldPhoto(models.Model):
    """Its identifier is the tablet's. The content is sealed: a picture may show what no list would."""

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    sha256 = models.CharField(max_length=64)
    begun_at = models.DateTimeField(default=timezone.now)

    # What came; empty while only the event has arrived.
    content = SealedField(null=True)
    size = models.PositiveIntegerField(null=True)
    width = models.PositiveSmallIntegerField(null=True)
    height = models.PositiveSmallIntegerField(null=True)
    received_at = models.DateTimeField(null=True)
    sent_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, related_name="+"
    )

    # Where it belongs; empty while only the picture has arrived.
    site = models.ForeignKey(Site, on_delete=models.PROTECT, null=True, related_name="field_photos")
    door = models.ForeignKey(Door, on_delete=models.PROTECT, null=True, related_name="photos")
    line = models.ForeignKey(OrderLine, on_delete=models.SET_NULL, null=True, related_name="photos")
    caption = models.CharField(max_length=LONGEST_CAPTION, blank=True)
    taken_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, related_name="+"
    )
    claimed_at = models.DateTimeField(null=True)

    objects = FieldPhotoQuerySet.as_manager()

    class Meta:
        ordering = ["-claimed_at", "-begun_at"]
        constraints = [
            models.CheckConstraint(
                condition=Q(content__isnull=False) | Q(door__isnull=False),
                name="field_photo_is_there_or_told_of",
            ),
            models.CheckConstraint(
                condition=Q(
                    content__isnull=False,
                    size__gte=1,
                    width__gte=1,
                    height__gte=1,
                    received_at__isnull=False,
                    sent_by__isnull=False,
                )
                | Q(
                    content__isnull=True,
                    size__isnull=True,
                    width__isnull=True,
                    height__isnull=True,
                    received_at__isnull=True,
                    sent_by__isnull=True,
                ),
                name="field_photo_that_came_says_what_it_is",
            ),
            models.CheckConstraint(
                condition=Q(
                    site__isnull=False,
                    door__isnull=False,
                    taken_by__isnull=False,
                    claimed_at__isnull=False,
                )
                | Q(
                    site__isnull=True,
                    door__isnull=True,
                    line__isnull=True,
                    taken_by__isnull=True,
                    claimed_at__isnull=True,
                    caption="",
                ),
                name="field_photo_belongs_to_a_door_of_a_site",
            ),
        ]
        indexes = [models.Index(fields=["begun_at"], name="field_photo_by_age")]

    def __str__(self) -> str:
        return self.caption or f"Photo of {self.door or 'no door yet'}"
