"""What changed since: each thing once for each site it belongs to or left, at the number of its last change.

Triggers write these rows (`triggers`), and nobody else. After a restore they are made anew.
"""

from django.db import models
from django.db.models import Q

from keyctl.feed.kinds import KINDS


class Change(models.Model):
    """A thing as a site knows it. A change takes the row away and puts it at the end, under a new number."""

    sequence = models.BigAutoField(primary_key=True)
    kind = models.CharField(max_length=12)
    # No foreign keys: the rows outlive what they speak of.
    thing = models.UUIDField()
    site = models.UUIDField()
    # Gone, or gone from this site.
    deleted = models.BooleanField()
    at = models.DateTimeField()

    class Meta:
        ordering = ["sequence"]
        constraints = [
            # The thing first: by kind or site nothing is looked for, pages are read by number alone.
            models.UniqueConstraint(
                fields=["thing", "kind", "site", "deleted"], name="change_is_listed_once_for_a_site"
            ),
            models.CheckConstraint(condition=Q(kind__in=sorted(KINDS)), name="change_is_of_a_known_kind"),
        ]

    def __str__(self) -> str:
        return f"{self.sequence} {self.kind} {self.thing}"


class Note(models.Model):
    """PostgreSQL only: what a transaction has changed and not numbered yet. None is left when it ends."""

    kind = models.CharField(max_length=12)
    thing = models.UUIDField()
    # It may have come, gone or moved; else it is only lifted to the end.
    moves = models.BooleanField()

    def __str__(self) -> str:
        return f"{self.kind} {self.thing}"


class Beginning(models.Model):
    """In one row: which row of numbers this is, and up to which number things gone may be forgotten."""

    id = models.PositiveSmallIntegerField(primary_key=True, default=1)
    # Another after each restore: the numbers of before then mean nothing.
    name = models.CharField(max_length=12)
    forgotten_up_to = models.BigIntegerField(default=0)

    class Meta:
        constraints = [
            models.CheckConstraint(condition=Q(id=1), name="feed_begins_once"),
            models.CheckConstraint(
                condition=Q(forgotten_up_to__gte=0), name="feed_forgets_from_its_beginning"
            ),
        ]

    def __str__(self) -> str:
        return self.name
