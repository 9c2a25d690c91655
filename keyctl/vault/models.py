"""The keys that seal values. Each is itself sealed by the key outside, which no database ever holds."""

from django.db import models
from django.db.models import Q
from django.utils import timezone


class DataKey(models.Model):
    """One key as one outer key wraps it. While the outer key is changed, a row stands for each of the two."""

    class Purpose(models.TextChoices):
        SEAL = "seal", "Seals values"
        DIGEST = "digest", "Makes keyed digests"

    # Eight hexadecimal digits; they stand before every value that it sealed.
    name = models.CharField(max_length=8)
    purpose = models.CharField(max_length=6, choices=Purpose)
    # A digest of the outer key, so that the wrong one is told from an altered row.
    wrapped_by = models.CharField(max_length=16)
    wrapped = models.BinaryField()
    made_at = models.DateTimeField(default=timezone.now)
    # Seals nothing new from here on; what it sealed still opens.
    retired_at = models.DateTimeField(null=True)

    class Meta:
        ordering = ["made_at", "pk"]
        constraints = [
            models.UniqueConstraint(fields=["name", "wrapped_by"], name="data_key_is_wrapped_once_by_a_key"),
            models.UniqueConstraint(
                fields=["purpose", "wrapped_by"],
                condition=Q(retired_at__isnull=True),
                name="data_key_in_use_is_one",
            ),
        ]

    def __str__(self) -> str:
        return f"data key {self.name}"
