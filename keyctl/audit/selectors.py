"""Reading history. The caller has fetched the subject through its permission."""

from django.db import models

from keyctl.audit.models import Event


def history_of(subject: models.Model) -> "models.QuerySet[Event]":
    """The events about one thing, the last recorded first: a clock may have been set back between two."""
    events = Event.objects.filter(subjects__kind=subject._meta.label_lower, subjects__subject_id=subject.pk)
    return events.order_by("-id")


def by_whom(subject: models.Model) -> str:
    """The end of a sentence to somebody who came second: who was first, and with what."""
    last = history_of(subject).first()
    return f": {last.actor_name} {last.sentence}" if last else ""
