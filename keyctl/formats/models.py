"""A shop's own core formats, never changed since pins rest on them; and which blank enters which keyway."""

from collections.abc import Iterable
from typing import Any

from django.conf import settings
from django.db import models
from django.utils import timezone
from django.utils.translation import gettext as _

from keyctl.lib.records import Record

LONGEST_ID = 40
LONGEST_KEYWAY = 20
CHANGEABLE = {"retired_at"}


class ShopFormat(Record):
    """The parameters of a core format as the engine takes them; id, name and construction stand beside."""

    format_id = models.SlugField(max_length=LONGEST_ID, db_index=False)
    name = models.CharField(max_length=120)
    construction = models.CharField(max_length=30)
    parameters = models.JSONField()
    made_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    made_at = models.DateTimeField(default=timezone.now)
    # A retired format is offered for nothing new; what was made by it goes on working.
    retired_at = models.DateTimeField(null=True)

    class Meta:
        ordering = ["format_id"]
        constraints = [
            models.UniqueConstraint(fields=["format_id"], name="shop_format_id_is_unique"),
            models.UniqueConstraint(
                fields=["name"],
                condition=models.Q(retired_at__isnull=True),
                name="shop_format_name_is_unique_in_use",
            ),
            models.CheckConstraint(
                condition=~models.Q(format_id="") & ~models.Q(name="") & ~models.Q(construction=""),
                name="shop_format_is_named",
            ),
            models.CheckConstraint(
                condition=models.Q(retired_at__isnull=True) | models.Q(retired_at__gte=models.F("made_at")),
                name="shop_format_is_retired_after_it_was_made",
            ),
        ]

    def __str__(self) -> str:
        return self.name

    def save(self, *args: Any, update_fields: Iterable[str] | None = None, **kwargs: Any) -> None:
        if not self._state.adding and (update_fields is None or set(update_fields) - CHANGEABLE):
            raise TypeError("A core format is never edited: copy it under a new id.")
        super().save(*args, update_fields=update_fields, **kwargs)

    @property
    def mapping(self) -> dict[str, Any]:
        """Every parameter in one, ready for the engine."""
        named = {"id": self.format_id, "name": self.name, "construction": self.construction}
        return {**self.parameters, **named}


class KeywayFit(Record):
    """A row of the blank table: a key on a blank of one keyway enters cores of another one.

    Each keyway enters itself without a row. The other direction is a row of its own: a thin blank enters a
    wide keyway and not the other way round.
    """

    blank_keyway = models.CharField(max_length=LONGEST_KEYWAY)
    core_keyway = models.CharField(max_length=LONGEST_KEYWAY)
    reason = models.CharField(max_length=200)
    made_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    made_at = models.DateTimeField(default=timezone.now)
    # When the stored turns came to know of it; until then they lack the keys that it lets in.
    tried_at = models.DateTimeField(null=True)

    class Meta:
        ordering = ["blank_keyway", "core_keyway"]
        constraints = [
            models.UniqueConstraint(fields=["blank_keyway", "core_keyway"], name="keyway_fit_is_told_once"),
            models.CheckConstraint(
                condition=~models.Q(blank_keyway=models.F("core_keyway")),
                name="keyway_fit_is_between_two_keyways",
            ),
            models.CheckConstraint(
                condition=~models.Q(blank_keyway="") & ~models.Q(core_keyway="") & ~models.Q(reason=""),
                name="keyway_fit_names_both_and_why",
            ),
        ]

    def __str__(self) -> str:
        return _("{blank} into {core}").format(blank=self.blank_keyway, core=self.core_keyway)
