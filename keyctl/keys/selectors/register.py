"""Reading the register: what is out and due back, what was, the acts at the desk and the deposits."""

from datetime import date, datetime, timedelta
from typing import Any

from django.db.models import Exists, OuterRef, Q, QuerySet

from keyctl.accounts.models import User
from keyctl.keys.access import key_sites, visible_deposits
from keyctl.keys.models import Custody, Deposit, Handover, Holder, KeyCopy
from keyctl.lib.moments import end_of_day, start_of_day
from keyctl.lib.tags import clean_tag

DUE_WITHIN = timedelta(days=7)


def open_custodies(holder: Holder) -> QuerySet[Custody]:
    """What the holder has now, with the moment each is due back."""
    return _register().filter(holder=holder, ended_at__isnull=True)


def register_of_holder(holder: Holder) -> QuerySet[Custody]:
    return _register().filter(holder=holder)


def register_of_copy(copy: KeyCopy) -> QuerySet[Custody]:
    return _register().filter(copy=copy)


def register(actor: User, *, text: str = "", day: date | None = None) -> QuerySet[Custody]:
    """Every line, newest first: all, or of a holder, of a serial, of a day on which it went out."""
    lines = _register().filter(copy__site__in=key_sites(actor))
    if day:
        lines = lines.filter(out_at__gte=start_of_day(day), out_at__lte=end_of_day(day))
    if text:
        serial = clean_tag(text)
        by_serial = Q(copy__serial__startswith=serial) if serial else Q(pk__in=[])
        lines = lines.filter(by_serial | Q(holder__name__icontains=text))
    return lines.order_by("-out_at", "pk")


def custodies_out(actor: User) -> QuerySet[Custody]:
    return _register().filter(copy__site__in=key_sites(actor), ended_at__isnull=True)


def custodies_due(actor: User, today: date) -> QuerySet[Custody]:
    """Out and due back: overdue ones first, then those of the coming week."""
    out = custodies_out(actor).filter(due_at__lte=end_of_day(today + DUE_WITHIN))
    return out.order_by("due_at", "out_at", "pk")


def custodies_overdue(actor: User, now: datetime) -> QuerySet[Custody]:
    """Longest overdue first."""
    return custodies_out(actor).filter(due_at__lt=now).order_by("due_at", "out_at", "pk")


def overdue_of(holder: Holder, now: datetime) -> int:
    return Custody.objects.filter(holder=holder, ended_at__isnull=True, due_at__lt=now).count()


def lines_of(act: Handover) -> QuerySet[Custody]:
    """The copies that an act was about, each by its line."""
    lines = act.lines_back if act.way == Handover.Way.BACK else act.lines_out
    return _register().filter(pk__in=lines.values("pk")).order_by("copy__serial")


def givers_of(act: Handover) -> list[Holder]:
    """Whose keys they were: of a transfer, those who gave them; of a return, those who had them."""
    return list(Holder.objects.filter(custodies__back_act=act).distinct())


def deposits(actor: User) -> QuerySet[Deposit]:
    """What is to be given back comes first, then what is still out with its keys, then what is settled."""
    rows: QuerySet[Any] = _with_keys(visible_deposits(actor))
    return rows.order_by("-state", "has_keys_out", "-handover__at", "pk")


def deposits_of(holder: Holder) -> QuerySet[Deposit]:
    """What is taken and not settled."""
    taken = Deposit.objects.filter(handover__holder=holder, state=Deposit.State.TAKEN)
    return _with_keys(taken.select_related("handover"))


def _with_keys(deposits: QuerySet[Deposit]) -> QuerySet[Deposit]:
    out = Custody.objects.filter(out_act=OuterRef("handover"), ended_at__isnull=True)
    return deposits.annotate(has_keys_out=Exists(out))


def _register() -> QuerySet[Custody]:
    return Custody.objects.select_related(
        "copy__symbol__system", "copy__site", "holder", "handed_out_by", "out_act", "ended_by", "back_act"
    )
