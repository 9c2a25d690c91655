"""What is found, and by which words. Made from the rest and made anew from it: no backup holds it.

No foreign keys: things are of many tables, rows come and go in bulk, and one service keeps them in step.
"""

from django.db import models
from django.db.models import Q

KINDS = (
    "door",
    "space",
    "building",
    "core",
    "key",
    "key-copy",
    "key-system",
    "cabinet",
    "holder",
    "person",
    "member",
    "work-order",
    "request",
)


class Entry(models.Model):
    """A thing as a site knows it. ``words`` are all it is found by, each behind a digit that says how well it
    names the thing: 3 its own number or name, 2 what it is called besides, 1 what it belongs to;
    0 for what not everybody who finds it may read."""

    id = models.BigAutoField(primary_key=True)
    kind = models.CharField(max_length=12)
    thing = models.UUIDField()
    # Zeros alone for people, who belong to no site.
    site = models.UUIDField()
    words = models.TextField()

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["thing", "kind", "site"], name="thing_is_entered_once_a_site"),
            models.CheckConstraint(condition=Q(kind__in=KINDS), name="entry_is_of_a_known_kind"),
        ]

    def __str__(self) -> str:
        return f"{self.kind} {self.thing}"


class Word(models.Model):
    """A word of a site: whoever searches elsewhere does not come near it."""

    id = models.BigAutoField(primary_key=True)
    site = models.UUIDField()
    # UTF-8, because both databases put bytes in the same order: what begins alike stands together.
    text = models.BinaryField(max_length=200)

    class Meta:
        constraints = [models.UniqueConstraint(fields=["site", "text"], name="word_is_kept_once_a_site")]

    def __str__(self) -> str:
        return bytes(self.text).decode()


class Posting(models.Model):
    """This entry has this word."""

    pk = models.CompositePrimaryKey("word", "entry")
    word = models.BigIntegerField()
    entry = models.BigIntegerField()

    def __str__(self) -> str:
        return f"{self.word} in {self.entry}"


class Trace(models.Model):
    """Where a word is looked for that was typed wrongly (``folding.marks``)."""

    pk = models.CompositePrimaryKey("mark", "word")
    mark = models.BigIntegerField()
    word = models.BigIntegerField()

    def __str__(self) -> str:
        return f"{self.mark} of {self.word}"


class Stale(models.Model):
    """A thing that changed and was not read again yet; triggers write it (``watching``)."""

    id = models.BigAutoField(primary_key=True)
    kind = models.CharField(max_length=12)
    thing = models.UUIDField()

    class Meta:
        constraints = [models.CheckConstraint(condition=Q(kind__in=KINDS), name="stale_is_of_a_known_kind")]

    def __str__(self) -> str:
        return f"{self.kind} {self.thing}"


class Keeper(models.Model):
    """One row: whoever reads changed things holds its lock, so that two never write the same words."""

    id = models.PositiveSmallIntegerField(primary_key=True, default=1)

    class Meta:
        constraints = [models.CheckConstraint(condition=Q(id=1), name="search_is_kept_by_one")]

    def __str__(self) -> str:
        return "keeper"
