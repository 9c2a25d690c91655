"""What holds over all looks: each has its event, and rests on what really let it."""

from collections.abc import Iterator

from django.db.models import F, Q
from django.utils import timezone
from django.utils.translation import gettext_noop

from keyctl.lib.days import moment
from keyctl.lib.retold import kept_text
from keyctl.reveals.models import Permission, Reveal

MOST = 1000
ANOTHER_PERSON = kept_text(gettext_noop("Seen: {reveal} at {at}, and history says that somebody else did."))
NOT_PERMITTED = kept_text(gettext_noop("Seen: {reveal} at {at} by a permission that did not let them."))


def breaches() -> Iterator[str]:
    rows = Reveal.objects.select_related("actor")
    for reveal in rows.exclude(event__actor=F("actor"))[:MOST]:
        yield ANOTHER_PERSON.format(reveal=reveal, at=moment(timezone.localtime(reveal.at)))
    for reveal in rows.filter(permission__isnull=False).filter(_not_permitted())[:MOST]:
        yield NOT_PERMITTED.format(reveal=reveal, at=moment(timezone.localtime(reveal.at)))


def _not_permitted() -> Q:
    others = ~Q(permission__asked_by=F("actor")) | ~Q(permission__decided_by=F("second"))
    another = ~Q(permission__kind=F("kind")) | ~Q(permission__subject_id=F("subject_id"))
    at_another_time = Q(at__lt=F("permission__decided_at")) | Q(at__gte=F("permission__until"))
    never = Q(permission__state__in=[Permission.State.ASKED, Permission.State.DECLINED])
    return others | another | at_another_time | never
