"""History: one event for every write, never changed afterwards."""

from typing import Any, NoReturn, TypeVar

from django.conf import settings
from django.db import DEFAULT_DB_ALIAS, models, transaction
from django.utils import timezone

from keyctl.audit.chain import link_events
from keyctl.lib.commits import before_commit
from keyctl.lib.inserting import insert

Row_co = TypeVar("Row_co", bound=models.Model, covariant=True)


class AppendOnlyQuerySet(models.QuerySet[Row_co]):
    def update(self, **_kwargs: Any) -> NoReturn:
        raise TypeError("History is append-only: record a correcting event instead.")

    def delete(self) -> NoReturn:
        raise TypeError("History is append-only: nothing is taken out of it.")


class AppendOnly(models.Model):
    class Meta:
        abstract = True

    def save(self, *args: Any, **kwargs: Any) -> None:
        if not self._state.adding:
            raise TypeError("History is append-only: record a correcting event instead.")
        super().save(*args, **kwargs)

    def delete(self, *_args: Any, **_kwargs: Any) -> NoReturn:
        raise TypeError("History is append-only: nothing is taken out of it.")


class EventQuerySet(AppendOnlyQuerySet["Event"]):
    def bulk_create(self, *args: Any, **kwargs: Any) -> "list[Event]":
        with transaction.atomic(using=self.db, savepoint=False):
            made = super().bulk_create(*args, **kwargs)
            for event in made:
                event.have_it_linked()
        return made


class Event(AppendOnly):
    """Who did what, when and to which things, in a sentence that stays true when names change later."""

    at = models.DateTimeField(default=timezone.now)
    actor = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, related_name="+")
    actor_name = models.CharField(max_length=120)
    # No foreign key: history lies below the places in the order of imports and outlives them.
    site_id = models.UUIDField(null=True)
    verb = models.CharField(max_length=60)
    sentence = models.CharField(max_length=400)
    detail = models.JSONField(default=dict)
    # The number of the request in which it happened, as in the logs; none where the program did it itself,
    # and in events from before there were any. It is in the hash of those that have one.
    request = models.CharField(max_length=64, null=True)

    objects = EventQuerySet.as_manager()

    class Meta:
        ordering = ["-at", "-id"]
        indexes = [
            models.Index(fields=["site_id", "-at"], name="event_by_site"),
            models.Index(fields=["verb", "-at"], name="event_by_verb"),
        ]
        constraints = [
            models.CheckConstraint(condition=~models.Q(verb=""), name="event_has_a_verb"),
            models.CheckConstraint(condition=~models.Q(sentence=""), name="event_has_a_sentence"),
        ]

    def __str__(self) -> str:
        return f"{self.at:%Y-%m-%d %H:%M} {self.actor_name}: {self.sentence}"

    def save(self, *args: Any, **kwargs: Any) -> None:
        with transaction.atomic(savepoint=False):
            super().save(*args, **kwargs)
            self.have_it_linked()

    def append(self) -> None:
        """The same inside a transaction that is there, by the short way."""
        insert(self)
        self.have_it_linked()

    def have_it_linked(self) -> None:
        """At the end of the transaction, when what it says of its subjects is there too."""
        before_commit(self._state.db or DEFAULT_DB_ALIAS, link_events, self.pk)


class EventSubject(AppendOnly):
    """One thing an event is about; the history of a door is the events that name the door."""

    event = models.ForeignKey(Event, on_delete=models.PROTECT, related_name="subjects")
    kind = models.CharField(max_length=60)
    subject_id = models.UUIDField()

    objects = AppendOnlyQuerySet["EventSubject"].as_manager()

    class Meta:
        indexes = [models.Index(fields=["kind", "subject_id", "-event"], name="event_by_subject")]
        constraints = [
            models.UniqueConstraint(fields=["event", "kind", "subject_id"], name="event_names_a_subject_once")
        ]

    def __str__(self) -> str:
        return f"{self.kind} {self.subject_id}"


class Link(AppendOnly):
    """An event's place in the chain: its number, without a gap, and a hash that holds to all before it."""

    number = models.BigIntegerField(primary_key=True)
    event = models.OneToOneField(Event, on_delete=models.PROTECT, related_name="link")
    before = models.BinaryField()
    hash = models.BinaryField()

    objects = AppendOnlyQuerySet["Link"].as_manager()

    class Meta:
        constraints = [
            models.CheckConstraint(condition=models.Q(number__gte=1), name="history_counts_from_one")
        ]

    def __str__(self) -> str:
        return f"entry {self.number}"


class Head(models.Model):
    """The last link, in one row: whoever appends holds its lock."""

    id = models.PositiveSmallIntegerField(primary_key=True)
    number = models.BigIntegerField()
    hash = models.BinaryField()

    class Meta:
        constraints = [models.CheckConstraint(condition=models.Q(id=1), name="history_has_one_head")]

    def __str__(self) -> str:
        return f"{self.number} entries"
