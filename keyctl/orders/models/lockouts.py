"""What an order to keep doors shut for a time stands on: who asked, until when, and the officer's word."""

from django.conf import settings
from django.db import models
from django.db.models import Q

from keyctl.lib.records import Record
from keyctl.orders.models.orders import WorkOrder


class LockOut(Record):
    order = models.OneToOneField(WorkOrder, on_delete=models.CASCADE, related_name="lock_out")
    asked_by = models.CharField(max_length=120)
    until = models.DateField()
    # A way out or a fire-rated door is shut only where a security officer says in words why it may be.
    word = models.CharField(max_length=300, blank=True)
    word_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, related_name="+"
    )
    word_at = models.DateTimeField(null=True)

    class Meta:
        constraints = [
            models.CheckConstraint(condition=~Q(asked_by=""), name="lock_out_says_who_asked"),
            models.CheckConstraint(
                condition=Q(word="", word_by__isnull=True, word_at__isnull=True)
                | (~Q(word="") & Q(word_by__isnull=False, word_at__isnull=False)),
                name="word_on_a_lock_out_is_somebodys",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.order}, shut until {self.until:%-d %b %Y}"
