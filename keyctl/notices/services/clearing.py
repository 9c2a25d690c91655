"""Mail names people and what they hold; it is not kept for ever. What happened stands in history."""

from datetime import datetime, timedelta

from django.utils.translation import gettext as _

from keyctl.notices.models import Notice

KEPT_FOR = timedelta(days=180)


def clear_old(now: datetime) -> str:
    """The routine: messages that ended half a year ago go, with their tries."""
    old = Notice.objects.exclude(state=Notice.State.WAITING).filter(written_at__lt=now - KEPT_FOR)
    count = old.count()
    old.delete()
    return _("Messages thrown away: {count}.").format(count=count)
