"""People, programs and tablets: who gets in, and by what."""

from collections.abc import Iterable, Iterator
from datetime import timedelta
from uuid import UUID

from django.conf import settings
from django.db.models import Count, Q
from django.utils import timezone
from django.utils.translation import gettext

from keyctl.accounts.factors import FORCED, with_second_factor
from keyctl.accounts.models import Session, User
from keyctl.api.models import Token
from keyctl.field.models import Device, FieldEvent
from keyctl.operations.posture.finding import Finding, act, good, look
from keyctl.places.models import Membership, Site
from keyctl.places.roles import TRUSTED_WITH_SECRETS, Role
from keyctl.reveals.models import Permission, Reveal
from keyctl.reveals.selectors import DAY, limits_at

TOKEN_UNUSED = timedelta(days=90)
TOKEN_OLD = timedelta(days=366)
TABLET_SILENT = timedelta(days=30)
# How much of a day's quota one person may use before somebody should ask what for.
MUCH_OF_A_QUOTA = 0.8


def trusted_people() -> list[User]:
    """Whose role lets them see bittings, or decide on keys that open much."""
    held = Membership.objects.filter(role__in=TRUSTED_WITH_SECRETS).values("user")
    return list(User.objects.filter(pk__in=held, is_active=True))


def second_factor() -> Finding:
    """Who is forced and has none gets no further than to the page that makes one."""
    people = trusted_people()
    without = len(people) - len(with_second_factor(people))
    words = gettext("{number} of {people} people in roles that see or decide much have one.").format(
        number=len(people) - without, people=len(people)
    )
    if settings.SECOND_FACTOR != FORCED:
        return act(gettext("Not asked of anybody (KEYCTL_SECOND_FACTOR). {words}").format(words=words))
    return (
        look(gettext("{words} The others are led to it when they sign in.").format(words=words))
        if without
        else good(words)
    )


def administrators() -> Finding:
    """One alone may leave, fall ill, or be locked out."""
    held = Q(memberships__role=Role.ADMINISTRATOR, memberships__user__is_active=True)
    sites = Site.objects.annotate(number=Count("memberships", filter=held)).filter(number__lt=2)
    alone = sites.order_by("code").values_list("code", flat=True)
    if alone:
        return look(gettext("Fewer than two administrators at: {alone}.").format(alone=", ".join(alone)))
    return good(gettext("Every site has two or more."))


def sessions() -> Finding:
    now = timezone.now()
    live = Session.objects.filter(expire_date__gt=now, user__isnull=False)
    number, people = live.count(), live.values("user").distinct().count()
    closed = live.filter(user__is_active=False).count()
    if closed:
        return act(gettext("Sessions of accounts that are closed: {closed}.").format(closed=closed))
    hours = settings.SESSION_COOKIE_AGE // 3600
    return good(
        gettext("Open sessions: {number}, people: {people}; none lasts longer than {hours} hours.").format(
            number=number, people=people, hours=hours
        )
    )


def tokens() -> Finding:
    now = timezone.now()
    live = Token.objects.filter(revoked_at=None, expires_at__gt=now, user__is_active=True)
    unused = live.filter(
        Q(last_used_at__lt=now - TOKEN_UNUSED) | Q(last_used_at=None, created_at__lt=now - TOKEN_UNUSED)
    )
    old = live.filter(created_at__lt=now - TOKEN_OLD)
    words = gettext("Tokens that work: {count}.").format(count=live.count())
    said = [
        *_counted(unused.count(), gettext("Unused for 90 days")),
        *_counted(old.count(), gettext("Older than a year")),
    ]
    return look(" ".join([words, *said])) if said else good(words)


def reveals() -> Finding:
    """The one who used most of what a site lets a person see in a day."""
    now = timezone.now()
    seen = Reveal.objects.filter(at__gt=now - DAY)
    waiting = Permission.objects.filter(state=Permission.State.ASKED).count()
    words = gettext(
        "Looks within a day: {count}; requests to look that wait for a decision: {waiting}."
    ).format(count=seen.count(), waiting=waiting)
    counted = seen.filter(more=None).values_list("actor", "site", "by").annotate(number=Count("pk"))
    most = max(_used((site, by, number) for _, site, by, number in counted), default=0.0)
    if most >= MUCH_OF_A_QUOTA:
        return look(
            gettext("{words} One person used {most} of a day's quota.").format(
                words=words, most=f"{most:.0%}"
            )
        )
    return good(words)


def _used(counted: Iterable[tuple[UUID, str, int]]) -> Iterator[float]:
    sites = Site.objects.in_bulk()
    for site, by, number in counted:
        limits = limits_at(sites[site])
        most = limits.at_work_a_day if by == Reveal.By.WORK else limits.alone_a_day
        yield number / max(1, most)


def tablets() -> Finding:
    now = timezone.now()
    waiting = FieldEvent.objects.filter(quarantine=FieldEvent.Quarantine.WAITING).count()
    silent = Device.objects.filter(withdrawn_at=None, unsent__gt=0, seen_at__lt=now - TABLET_SILENT).count()
    in_use = Device.objects.filter(withdrawn_at=None).count()
    said = [
        *_counted(waiting, gettext("Events of withdrawn tablets that wait to be judged")),
        *_counted(silent, gettext("With unsent work and not heard of for 30 days")),
    ]
    words = gettext("Tablets in use: {in_use}.").format(in_use=in_use)
    return look(" ".join([words, *said])) if said else good(words)


def _counted(number: int, words: str) -> list[str]:
    return [f"{words}: {number}."] if number else []
