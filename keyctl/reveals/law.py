"""What holds over all looks: each has its event, and rests on what really let it."""

from collections.abc import Iterator

from django.db.models import F, Q

from keyctl.reveals.models import Permission, Reveal

MOST = 1000


def breaches() -> Iterator[str]:
    rows = Reveal.objects.select_related("actor")
    for reveal in rows.exclude(event__actor=F("actor"))[:MOST]:
        yield f"{reveal} at {reveal.at:%Y-%m-%d %H:%M}, and history says that somebody else did."
    for reveal in rows.filter(permission__isnull=False).filter(_not_permitted())[:MOST]:
        yield f"{reveal} at {reveal.at:%Y-%m-%d %H:%M} by a permission that did not let them."


def _not_permitted() -> Q:
    others = ~Q(permission__asked_by=F("actor")) | ~Q(permission__decided_by=F("second"))
    another = ~Q(permission__kind=F("kind")) | ~Q(permission__subject_id=F("subject_id"))
    at_another_time = Q(at__lt=F("permission__decided_at")) | Q(at__gte=F("permission__until"))
    never = Q(permission__state__in=[Permission.State.ASKED, Permission.State.DECLINED])
    return others | another | at_another_time | never
