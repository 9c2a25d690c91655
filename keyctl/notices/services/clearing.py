"""Mail names people and what they hold; it is not kept for ever. What happened stands in history."""

from datetime import datetime, timedelta

from django.utils.translation import gettext_noop

from keyctl.lib.retold import kept_text
from keyctl.notices.models import Notice

KEPT_FOR = timedelta(days=180)
CLEARED = kept_text(gettext_noop("Messages thrown away: {count}."))


def clear_old(now: datetime) -> str:
    """The routine: messages that ended half a year ago go, with their tries."""
    old = Notice.objects.exclude(state=Notice.State.WAITING).filter(written_at__lt=now - KEPT_FOR)
    count = old.count()
    old.delete()
    return CLEARED.format(count=count)
