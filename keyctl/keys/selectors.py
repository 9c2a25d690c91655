"""Reading keys: what is out, what is in the cabinets, what is due back, and whether the counts add up."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, timedelta
from uuid import UUID

from django.db.models import Count, QuerySet

from keyctl.accounts.models import User
from keyctl.keys.access import DESK, DESTROYERS, LOSS_REPORTERS, visible_copies, visible_holders
from keyctl.keys.law import LawCount, law_breaches, law_count, law_counts
from keyctl.keys.models import Custody, Holder, KeyCopy
from keyctl.lib.moments import end_of_day
from keyctl.lib.tags import clean_tag
from keyctl.places.models import Membership, Site
from keyctl.systems.models import KeySymbol

__all__ = ["LawCount", "law_breaches", "law_count", "law_counts"]

MOST_FOUND = 20
DUE_WITHIN = timedelta(days=7)


@dataclass(frozen=True)
class Act:
    """Something the person may do with a copy as it is now: its URL name and what the button says."""

    name: str
    label: str


@dataclass(frozen=True)
class Found:
    holders: list[Holder]
    copies: list[KeyCopy]
    is_cut_short: bool


HAND_OUT = (Act("keys:hand-out", "Hand out"), DESK)
TAKE_BACK = (Act("keys:take-back", "Take back"), DESK)
TAKE_FOUND = (Act("keys:take-back", "Take back the found copy"), DESK)
REPORT_LOST = (Act("keys:lost", "Report lost"), LOSS_REPORTERS)
DESTROY = (Act("keys:destroy", "Destroy"), DESTROYERS)
ACTS = {
    KeyCopy.State.HELD: (TAKE_BACK, REPORT_LOST),
    KeyCopy.State.IN_CABINET: (HAND_OUT, REPORT_LOST, DESTROY),
    KeyCopy.State.LOST: (TAKE_FOUND,),
}


def acts_on(actor: User, copy: KeyCopy) -> list[Act]:
    held = set(Membership.objects.filter(user=actor, site=copy.site).values_list("role", flat=True))
    acts = ACTS.get(KeyCopy.State(copy.state), ())
    return [act for act, roles in acts if held & set(roles)]


def held_by(holder: Holder) -> QuerySet[KeyCopy]:
    return KeyCopy.objects.filter(holder=holder).with_names()


def copies_in_cabinet(symbol: KeySymbol, site: Site) -> QuerySet[KeyCopy]:
    copies = KeyCopy.objects.filter(symbol=symbol, site=site, state=KeyCopy.State.IN_CABINET)
    return copies.with_names().order_by("cabinet__name", "serial")


def stock_counts(symbols: QuerySet[KeySymbol], site: Site) -> Mapping[UUID, int]:
    """Copies in the site's cabinets, per symbol that has any."""
    copies = KeyCopy.objects.filter(symbol__in=symbols, site=site, state=KeyCopy.State.IN_CABINET)
    return dict(copies.order_by().values_list("symbol").annotate(Count("pk")))


def open_custodies(holder: Holder) -> QuerySet[Custody]:
    """What the holder has now, with the day each is due back."""
    return _register().filter(holder=holder, ended_at__isnull=True)


def register_of_holder(holder: Holder) -> QuerySet[Custody]:
    return _register().filter(holder=holder)


def register_of_copy(copy: KeyCopy) -> QuerySet[Custody]:
    return _register().filter(copy=copy)


def custodies_out(actor: User) -> QuerySet[Custody]:
    return _register().filter(copy__in=visible_copies(actor), ended_at__isnull=True)


def custodies_due(actor: User, today: date) -> QuerySet[Custody]:
    """Out and due back: overdue ones first, then those of the coming week."""
    out = custodies_out(actor).filter(due_at__lte=end_of_day(today + DUE_WITHIN))
    return out.order_by("due_at", "out_at", "pk")


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


def _register() -> QuerySet[Custody]:
    return Custody.objects.select_related(
        "copy__symbol__system", "copy__site", "holder", "handed_out_by", "out_act", "ended_by", "back_act"
    )
