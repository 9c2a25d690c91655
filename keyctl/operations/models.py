"""What came of holding all data against the laws, time after time."""

from django.db import models
from django.utils import timezone

from keyctl.lib.records import Record


class EstateCheck(Record):
    """One look at everything. ``breaches`` names some of each law, with the remedy; ``left_out`` the laws
    that could not be looked at, and why."""

    at = models.DateTimeField(default=timezone.now)
    seconds = models.FloatField()
    laws = models.PositiveIntegerField()
    number = models.PositiveIntegerField()
    breaches = models.JSONField(default=list)
    left_out = models.JSONField(default=dict)

    class Meta:
        ordering = ["-at"]
        indexes = [models.Index(fields=["-at"], name="estate_check_by_time")]

    def __str__(self) -> str:
        return f"{self.number} breaches"

    @property
    def is_clean(self) -> bool:
        return self.number == 0
