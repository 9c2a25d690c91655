"""Versions: numbered pictures of a key system, so that two can be set side by side later."""

from django.conf import settings
from django.db import models
from django.db.models import Q
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from keyctl.lib.records import Record
from keyctl.systems.models import KeySystem


class SystemVersion(Record):
    """A system as it was: its keys, what its cores were keyed to, and which keys turned which cores.

    ``content`` is compressed text (see ``picture``). Of a bitting it holds a part of the keyed digest, which
    tells that a key was cut anew and nothing else.
    """

    class Occasion(models.TextChoices):
        BY_HAND = "by-hand", gettext_lazy("Taken by hand")
        KEYS_ADDED = "keys-added", gettext_lazy("Keys were added")

    system = models.ForeignKey(KeySystem, on_delete=models.PROTECT, related_name="versions")
    number = models.PositiveIntegerField()
    occasion = models.CharField(max_length=12, choices=Occasion)
    why = models.CharField(max_length=400)
    made_at = models.DateTimeField(default=timezone.now)
    # Nobody where the system itself kept the version and history does not say for whom.
    made_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, related_name="+"
    )
    keys = models.PositiveIntegerField()
    cores = models.PositiveIntegerField()
    content = models.BinaryField()

    class Meta:
        ordering = ["system", "-number"]
        constraints = [
            models.UniqueConstraint(
                fields=["system", "number"], name="version_number_is_unique_in_its_system"
            ),
            models.CheckConstraint(condition=Q(number__gte=1), name="version_numbers_begin_at_one"),
            models.CheckConstraint(
                condition=Q(occasion="by-hand", made_by__isnull=False) | Q(occasion="keys-added"),
                name="version_taken_by_hand_says_by_whom",
            ),
        ]

    def __str__(self) -> str:
        return _("Version {number}").format(number=self.number)
