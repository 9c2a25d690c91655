"""The key desk, and the mail that goes out."""

from typing import Any

from keyctl.desk.models import CalendarFeed, Tray, TrayLine
from keyctl.desk.services.feeds import digest_of
from keyctl.notices.services import send_notice
from tests import factories
from tests.scenes.base import Base

SECRET = "the-secret-of-a-calendar"
OF_SITE: tuple[str, ...] = (
    "issue",
    "return",
    "transfer",
    "add",
    "taker",
    "ready",
    "found",
    "undo",
    "clear",
    "agree",
)
OF_SITE += ("finish", "reminders", "rules")


def routes(base: Base) -> dict[str, Any]:
    return {**of_desk(base), **of_notices(base)}


def of_desk(base: Base) -> dict[str, Any]:
    site, clerk = base.cast.north, base.cast.desk
    tray = Tray.objects.create(site=site, clerk=clerk, way="out")
    line = TrayLine.objects.create(tray=tray, ordinal=1, copy=base.copy)
    act = factories.make_handover(site, by=clerk)
    feed = CalendarFeed.objects.create(user=clerk, digest=digest_of(base.name(SECRET)))
    return {
        **{f"desk:{name}": site.pk for name in OF_SITE},
        "desk:leave-out": line.pk,
        "desk:condition": line.pk,
        "desk:act": act.pk,
        "prints:receipt": act.pk,
        "desk:pause": base.holder.pk,
        "desk:end-pause": base.holder.pk,
        "desk:renew-feed": feed.pk,
        "desk:end-feed": feed.pk,
        # Whoever has it is let in by it.
        "desk:feed": base.name(SECRET),
    }


def of_notices(base: Base) -> dict[str, Any]:
    site = base.cast.north
    notice = send_notice(
        to="nowhere", name="Ann", kind="test", template="test", facts={"site": site}, site=site
    )
    assert notice is not None
    return {"notices:detail": notice.pk, "notices:retry": notice.pk, "notices:test": site.pk}
