"""Reading copies: what is in the cabinets, what is broken, and what may be done with a copy."""

from collections.abc import Mapping
from dataclasses import dataclass
from uuid import UUID

from django.db.models import Count, QuerySet
from django.urls import reverse
from django.utils.translation import gettext_lazy

from keyctl.accounts.models import User
from keyctl.keys.access import (
    DESK,
    DESTROYERS,
    LOSS_REPORTERS,
    readable_cabinet,
    visible_cabinets,
    visible_copies,
    visible_holders,
)
from keyctl.keys.models import Cabinet, Holder, KeyCopy
from keyctl.lib.language import Text
from keyctl.lib.tags import clean_tag
from keyctl.places.models import Membership, Site
from keyctl.systems.models import KeySymbol

MOST_FOUND = 20


@dataclass(frozen=True)
class Act:
    """Something the person may do with a copy as it is now: its URL name and what the button says."""

    name: str
    label: Text


@dataclass(frozen=True)
class Found:
    holders: list[Holder]
    copies: list[KeyCopy]
    is_cut_short: bool


HAND_OUT = (Act("keys:hand-out", gettext_lazy("Hand out")), DESK)
TRANSFER = (Act("keys:transfer", gettext_lazy("Transfer")), DESK)
MOVE = (Act("keys:move", gettext_lazy("Hang elsewhere")), DESK)
BROKEN = (Act("keys:broken", gettext_lazy("Report broken")), DESTROYERS)
TAKE_BACK = (Act("keys:take-back", gettext_lazy("Take back")), DESK)
TAKE_FOUND = (Act("keys:found", gettext_lazy("Take in the found copy")), DESK)
REPORT_LOST = (Act("keys:lost", gettext_lazy("Report lost")), LOSS_REPORTERS)
DESTROY = (Act("keys:destroy", gettext_lazy("Destroy")), DESTROYERS)
ACTS = {
    KeyCopy.State.HELD: (TAKE_BACK, TRANSFER, REPORT_LOST, BROKEN),
    KeyCopy.State.IN_CABINET: (HAND_OUT, MOVE, REPORT_LOST, BROKEN, DESTROY),
    KeyCopy.State.LOST: (TAKE_FOUND,),
}


# What is broken is taken back and destroyed, and nothing else.
NOT_WHEN_BROKEN = (HAND_OUT[0], TRANSFER[0], BROKEN[0])


def acts_on(actor: User, copy: KeyCopy) -> list[Act]:
    held = set(Membership.objects.filter(user=actor, site=copy.site).values_list("role", flat=True))
    acts = ACTS.get(KeyCopy.State(copy.state), ())
    barred = NOT_WHEN_BROKEN if copy.is_broken else ()
    return [act for act, roles in acts if held & set(roles) and act not in barred]


def held_by(holder: Holder) -> QuerySet[KeyCopy]:
    return KeyCopy.objects.filter(holder=holder).with_names()


def copies_in_cabinet(symbol: KeySymbol, site: Site) -> QuerySet[KeyCopy]:
    copies = KeyCopy.objects.filter(symbol=symbol, site=site, state=KeyCopy.State.IN_CABINET)
    return copies.with_names().order_by("cabinet__name", "serial")


def stock_counts(symbols: QuerySet[KeySymbol], site: Site) -> Mapping[UUID, int]:
    """Copies in the site's cabinets, per symbol that has any."""
    copies = KeyCopy.objects.filter(symbol__in=symbols, site=site, state=KeyCopy.State.IN_CABINET)
    return dict(copies.order_by().values_list("symbol").annotate(Count("pk")))


def copies_broken(actor: User) -> QuerySet[KeyCopy]:
    """Broken and not destroyed yet, wherever they are."""
    gone = [KeyCopy.State.DESTROYED, KeyCopy.State.LOST]
    copies = visible_copies(actor).filter(condition=KeyCopy.Condition.BROKEN).exclude(state__in=gone)
    return copies.order_by("site__code", "serial")


def copies_in(cabinet: Cabinet) -> QuerySet[KeyCopy]:
    copies = KeyCopy.objects.filter(cabinet=cabinet).with_names()
    return copies.order_by("symbol__system__code", "symbol__symbol", "serial")


def cabinets(actor: User) -> QuerySet[Cabinet]:
    """Each with how many copies hang in it."""
    return visible_cabinets(actor).annotate(number=Count("copies")).order_by("site__code", "name")


def page_of_cabinet(actor: User, tag: str) -> str | None:
    """For the finder of printed codes."""
    cabinet = Cabinet.objects.filter(tag=tag).only("pk").first()
    return reverse("keys:cabinet", args=[readable_cabinet(actor, cabinet.pk).pk]) if cabinet else None


def copies_in_stock(actor: User) -> QuerySet[KeyCopy]:
    copies = visible_copies(actor).filter(state=KeyCopy.State.IN_CABINET)
    return copies.order_by("site__code", "cabinet__name", "symbol__system__code", "symbol__symbol", "serial")


def find(actor: User, text: str) -> Found:
    """Holders by a part of their name, copies by the beginning of their serial."""
    holders = list(visible_holders(actor).filter(name__icontains=text.strip())[: MOST_FOUND + 1])
    serial = clean_tag(text)
    copies = list(visible_copies(actor).filter(serial__startswith=serial)[: MOST_FOUND + 1]) if serial else []
    return Found(
        holders=holders[:MOST_FOUND],
        copies=copies[:MOST_FOUND],
        is_cut_short=max(len(holders), len(copies)) > MOST_FOUND,
    )
