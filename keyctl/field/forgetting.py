"""What tablets told is kept for a time; that it was told is kept for good.

A tablet may lie in a drawer for years with its outbox full. If an event's row were gone, a late repeat would
be done a second time; so its identifier, its digest and its outcome stay, with its number; the words go.
"""

from datetime import datetime, timedelta

from django.db.models import Q, QuerySet
from django.utils import timezone
from django.utils.translation import gettext_noop

from keyctl.field.models import FieldEvent, ReconcileCase, RejectedEvent
from keyctl.lib.retold import kept_text

KEPT_FOR = timedelta(days=400)
FORGOTTEN = kept_text(gettext_noop("Events forgotten but for what tells a repeat: {count}."))


def forget_events(now: datetime) -> str:
    """For the routine that comes round. What stands in an open case or waits for a decision stays."""
    old = now - KEPT_FOR
    told = _past_their_time(old).update(body={}, reason="", later_reason="", forgotten_at=timezone.now())
    rejected = RejectedEvent.objects.filter(received_at__lt=old).exclude(text="").update(text="")
    total = told + rejected
    return FORGOTTEN.format(count=total)


def _past_their_time(old: datetime) -> QuerySet[FieldEvent]:
    open_case = Q(case__state=ReconcileCase.State.OPEN) | Q(stories__case__state=ReconcileCase.State.OPEN)
    waiting = Q(quarantine=FieldEvent.Quarantine.WAITING)
    needed = FieldEvent.objects.filter(open_case | waiting).values("pk")
    return FieldEvent.objects.filter(received_at__lt=old, forgotten_at=None).exclude(pk__in=needed)
