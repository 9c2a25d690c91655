"""Which keys a count by serial seeks, and where the register has each copy."""

from collections.abc import Iterable
from uuid import UUID

from django.db.models import QuerySet

from keyctl.accounts.models import User
from keyctl.counts.comparing import Standing
from keyctl.counts.models import Count, CountRule
from keyctl.keys.models import Holder, KeyCopy
from keyctl.lib.tags import clean_tag
from keyctl.places.models import Door, Site
from keyctl.systems.models import KeySymbol

State = KeyCopy.State
AT_HAND = (State.HELD, State.IN_CABINET)
Subject = CountRule.Subject


def master_symbols() -> QuerySet[KeySymbol]:
    """Masters, and control keys, which take cores out of every door of their system."""
    return KeySymbol.objects.filter(kind__in=[KeySymbol.Kind.MASTER, KeySymbol.Kind.CONTROL])


def critical_symbols(site: Site) -> QuerySet[KeySymbol]:
    """Keys that, by the pins, turn a core in a critical door of the site."""
    doors = Door.objects.filter(floor__building__site=site, door_class=Door.DoorClass.CRITICAL)
    turned = KeySymbol.objects.filter(turns__core__housing__door__in=doors, turns__operates=True)
    return KeySymbol.objects.filter(pk__in=turned.values("pk"))


def weighty_symbols(site: Site, symbols: Iterable[UUID]) -> set[UUID]:
    """Of these keys, the masters and those of critical doors."""
    named = list(symbols)
    masters = master_symbols().filter(pk__in=named).values_list("pk", flat=True)
    critical = critical_symbols(site).filter(pk__in=named).values_list("pk", flat=True)
    return {*masters, *critical}


def copies_to_count(count: Count) -> QuerySet[KeyCopy]:
    """What the register has now of what the count is about; lost and destroyed copies are not sought."""
    copies = KeyCopy.objects.filter(site=count.site, state__in=AT_HAND)
    if count.scope == Count.Scope.CABINET:
        return copies.filter(cabinet=count.cabinet)
    if count.scope == Count.Scope.HOLDER:
        return copies.filter(holder=count.holder)
    return copies_of(count.site, count.subject, count.symbol)


def copies_of(site: Site, subject: str, symbol: KeySymbol | None = None) -> QuerySet[KeyCopy]:
    copies = KeyCopy.objects.filter(site=site, state__in=AT_HAND)
    if symbol:
        return copies.filter(symbol=symbol)
    narrowed = {
        Subject.MASTERS: lambda: copies.filter(symbol__in=master_symbols()),
        Subject.CRITICAL: lambda: copies.filter(symbol__in=critical_symbols(site)),
        Subject.CABINETS: lambda: copies.filter(state=State.IN_CABINET),
        Subject.HOLDERS: lambda: copies.filter(state=State.HELD),
    }
    return narrowed.get(Subject(subject), lambda: copies)()


def copy_by_mark(site: Site, text: str) -> KeyCopy | None:
    """The site's copy of this serial, or with this stamp where the shop stamps something else."""
    copies = KeyCopy.objects.filter(site=site).select_related("holder", "cabinet")
    serial = clean_tag(text)
    found = copies.filter(serial=serial).first() if serial else None
    return found or copies.filter(stamp__iexact=text.strip()).exclude(stamp="").first()


def is_holder(user: User, holder: Holder | None) -> bool:
    """Whether the holder stands for the user, by themselves or as a person brought in from elsewhere."""
    if holder is None:
        return False
    return user.pk in {holder.user_id, holder.person.user_id if holder.person else None}


def standing_of(copy: KeyCopy) -> Standing:
    return Standing(copy.state, copy.cabinet_id or copy.holder_id, copy.version)


def standings(copies: Iterable[UUID]) -> dict[UUID, Standing]:
    """Where the register has each of the copies now."""
    found = KeyCopy.objects.filter(pk__in=list(copies))
    return {copy.pk: standing_of(copy) for copy in found}
