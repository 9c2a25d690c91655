"""What a scan or a typed word means at a site: a key, somebody, or several people to choose from.

Exact things come first (a serial, a stamp, a card, an address, a name), then beginnings and parts of names:
a scanner always sends the whole, a person may type the beginning.
"""

from dataclasses import dataclass

from django.db.models import Q, QuerySet
from django.utils.translation import gettext as _

from keyctl.keys.models import Holder, KeyCopy, Person
from keyctl.lib.tags import ALPHABET, clean_tag
from keyctl.places.models import Site

MOST_NAMED = 8
# Fewer signs of a serial are no beginning of one: a short name could be meant.
SHORTEST_BEGINNING = 4
LONGEST_SCAN = 200

Taker = Holder | Person


@dataclass(frozen=True)
class Meaning:
    """One of these, or nothing: ``trouble`` then says so."""

    copy: KeyCopy | None = None
    takers: tuple[Taker, ...] = ()
    trouble: str = ""


@dataclass(frozen=True)
class Heard:
    """What an act at the counter led to: words for eyes and ears, people to choose from, a lost key."""

    words: str = ""
    takers: tuple[Taker, ...] = ()
    found: KeyCopy | None = None


def read_scan(site: Site, text: str) -> Meaning:
    text = " ".join(text.split())[:LONGEST_SCAN]
    if not text:
        return Meaning(trouble=_("Nothing was scanned. Scan a card or a key, or type a name or a serial."))
    return (
        _exact_copy(site, text)
        or _exact_taker(site, text)
        or _gone(site, text)
        or _partly_named(site, text)
        or _beginning(site, text)
        or Meaning(
            trouble=_("Nothing at {site} answers to “{text}”: no key and nobody. Look at it again.").format(
                site=site, text=text
            )
        )
    )


def _copies(site: Site) -> QuerySet[KeyCopy]:
    return KeyCopy.objects.filter(site=site).with_names()


def is_like_a_serial(text: str) -> bool:
    """
    >>> [is_like_a_serial(text) for text in ("BCDF-2345-GHJK", "Ann Bell", "bcdf 2345")]
    [True, False, True]
    """
    return bool(text) and all(sign in ALPHABET or sign in " -" for sign in text.upper())


def _exact_copy(site: Site, text: str) -> Meaning | None:
    wanted = Q(stamp__iexact=text) & ~Q(stamp="")
    if is_like_a_serial(text):
        wanted |= Q(serial=clean_tag(text))
    copy = _copies(site).filter(wanted).first()
    return Meaning(copy=copy) if copy else None


def _exact_taker(site: Site, text: str) -> Meaning | None:
    """A card number, a user name or an address is one person's; a name may be several people's."""
    known = Q(external_id=text) | Q(user_name__iexact=text) | Q(email__iexact=text)
    card = Q(person__external_id=text) | Q(person__user_name__iexact=text) | Q(email__iexact=text)
    return _chosen(site, card, known) or _chosen(site, Q(name__iexact=text), Q(display_name__iexact=text))


def _gone(site: Site, text: str) -> Meaning | None:
    """The card of somebody who has left: not unknown, and the clerk should hear it."""
    card = Q(external_id=text) | Q(user_name__iexact=text) | Q(email__iexact=text)
    person = Person.objects.filter(card, is_active=False).first()
    own = Q(person__external_id=text) | Q(person__user_name__iexact=text) | Q(email__iexact=text)
    gone = person or Holder.objects.filter(own, site=site, is_active=False).first()
    return Meaning(trouble=_("{gone} has left and receives no keys.").format(gone=gone)) if gone else None


def _partly_named(site: Site, text: str) -> Meaning | None:
    holder, person = Q(), Q()
    for word in text.split():
        holder &= Q(name__icontains=word)
        person &= Q(display_name__icontains=word)
    return _chosen(site, holder, person)


def _chosen(site: Site, holder: Q, person: Q) -> Meaning | None:
    """Holders of the site who still receive keys, and people who are not holders there yet."""
    holders = Holder.objects.filter(holder, site=site, is_active=True).select_related("person", "site")
    strangers = Person.objects.filter(person, is_active=True).exclude(holders__site=site)
    found: list[Taker] = [*holders[: MOST_NAMED + 1]]
    found += strangers[: MOST_NAMED + 1 - len(found)]
    if len(found) > MOST_NAMED:
        return Meaning(
            trouble=_(
                "More than {most_named} people answer to that. Type more of the name, or the address."
            ).format(most_named=MOST_NAMED)
        )
    return Meaning(takers=tuple(found)) if found else None


def _beginning(site: Site, text: str) -> Meaning | None:
    serial = clean_tag(text)
    if not is_like_a_serial(text) or len(serial) < SHORTEST_BEGINNING:
        return None
    found = _copies(site).filter(serial__startswith=serial)[:2]
    if len(found) > 1:
        return Meaning(
            trouble=_("Several keys begin with “{text}”. Type more of the serial.").format(text=text)
        )
    return Meaning(copy=found[0]) if found else None
