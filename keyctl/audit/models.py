"""History: one event for every write, never changed afterwards."""

from typing import Any, NoReturn, TypeVar

from django.conf import settings
from django.db import models
from django.utils import timezone

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

    objects = AppendOnlyQuerySet["Event"].as_manager()

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
