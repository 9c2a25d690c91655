"""Keys by their symbols, copies with who has them, what each holder has, and the register. No bitting."""

from datetime import date

from django.db.models import Count, Q, QuerySet
from django.utils import timezone
from django.utils.dateparse import parse_date
from django.utils.translation import gettext_lazy

from keyctl.accounts.models import User
from keyctl.exports.tables.columns import Column, Narrowed, Table, moment, words, yes_or_no
from keyctl.keys import selectors
from keyctl.keys.access import READERS, visible_copies
from keyctl.keys.models import Custody, Holder, KeyCopy
from keyctl.lib.identifiers import read_uuid
from keyctl.prints.access import PLAN_TAKERS
from keyctl.systems.access import visible_symbols, visible_systems
from keyctl.systems.models import KeySymbol


def _symbols(actor: User, said: Narrowed) -> QuerySet[KeySymbol]:
    sites = SYMBOLS.sites(actor)
    found = visible_symbols(actor).filter(system__sites__in=sites).distinct().select_related("parent")
    if system := read_uuid(said.get("system", "")):
        found = found.filter(system=system)
    at_sites = Q(copies__site__in=sites)
    return found.annotate(
        copies_cut=Count("copies", filter=at_sites & ~Q(copies__state=KeyCopy.State.DESTROYED), distinct=True)
    ).order_by("system__code", "level", "ordinal", "symbol")


def _told_system(actor: User, said: Narrowed) -> dict[str, str]:
    if not (system := read_uuid(said.get("system", ""))):
        return {}
    code = visible_systems(actor).filter(pk=system).values_list("code", flat=True).first()
    return {"system": code} if code else {}


def _copies(actor: User, said: Narrowed) -> QuerySet[KeyCopy]:
    """As the page of keys shows them: what is out, due, in a cabinet, broken; all where it says nothing."""
    shown = said.get("show", "")
    copies = visible_copies(actor).select_related("custody")
    out = {
        "due": lambda: selectors.custodies_due(actor, timezone.localdate()),
        "overdue": lambda: selectors.custodies_overdue(actor, timezone.now()),
        "out": lambda: selectors.custodies_out(actor),
    }
    if shown in out:
        copies = copies.filter(custody__in=out[shown]().order_by().values("pk"))
    elif shown == "stock":
        copies = copies.filter(state=KeyCopy.State.IN_CABINET)
    elif shown == "broken":
        copies = copies.filter(pk__in=selectors.copies_broken(actor).order_by().values("pk"))
    return copies.order_by("site__code", "serial")


def _held(actor: User, _said: Narrowed) -> QuerySet[Custody]:
    lines = selectors.custodies_out(actor).select_related("holder__person")
    return lines.order_by("copy__site__code", "holder__name", "holder__pk", "copy__serial")


def _register(actor: User, said: Narrowed) -> QuerySet[Custody]:
    return selectors.register(actor, text=said.get("q", ""), day=_day(said.get("day", "")))


def _day(text: str) -> date | None:
    try:
        return parse_date(text)
    except ValueError:
        return None


def _under(symbol: KeySymbol) -> str:
    return symbol.parent.symbol if symbol.parent else ""


def _department(holder: Holder | None) -> str:
    return holder.department if holder else ""


SYMBOLS = Table(
    name="keys",
    page="systems:list",
    title=gettext_lazy("Keys"),
    takers=PLAN_TAKERS,
    rows=_symbols,
    narrowed_by=("system",),
    told=_told_system,
    columns=(
        Column("Key system", lambda key: key.system.code, 14),
        Column("Key symbol", lambda key: key.symbol, 14),
        Column("Kind", lambda key: key.kind, 12),
        Column("Level", lambda key: key.level, 8),
        Column("Under", _under, 14),
        Column("Made", lambda key: moment(key.created_at), 24),
        Column("Origin", lambda key: key.origin, 14),
        Column("Retired", lambda key: moment(key.retired_at), 24),
        Column("Copies", lambda key: key.copies_cut, 8),
    ),
)

COPIES = Table(
    name="copies",
    page="keys:desk",
    title=gettext_lazy("Key copies"),
    takers=READERS,
    rows=_copies,
    narrowed_by=("show",),
    tells_of_people=True,
    columns=(
        Column("Site", lambda copy: copy.site.code, 10),
        Column("Serial", words, 18),
        Column("Stamp", lambda copy: copy.stamp, 16),
        Column("Key system", lambda copy: copy.symbol.system.code, 14),
        Column("Key symbol", lambda copy: copy.symbol.symbol, 14),
        Column("State", lambda copy: copy.state, 12),
        Column("Condition", lambda copy: copy.condition, 12),
        Column("Holder", lambda copy: words(copy.holder), 28),
        Column("Department", lambda copy: _department(copy.holder), 20),
        Column("Cabinet", lambda copy: copy.cabinet.name if copy.cabinet else "", 18),
        Column("Cut", lambda copy: moment(copy.cut_at), 24),
        Column("Out since", lambda copy: moment(copy.custody and copy.custody.out_at), 24),
        Column("Due back", lambda copy: moment(copy.custody and copy.custody.due_at), 24),
    ),
)

HELD = Table(
    name="held",
    page="keys:desk",
    title=gettext_lazy("Holders and their keys"),
    takers=READERS,
    rows=_held,
    tells_of_people=True,
    columns=(
        Column("Site", lambda line: line.copy.site.code, 10),
        Column("Holder", lambda line: line.holder.name, 28),
        Column("Mail", lambda line: line.holder.email, 28),
        Column("Department", lambda line: line.holder.department, 20),
        Column("Kind", lambda line: line.holder.kind, 12),
        Column("May hold keys", lambda line: yes_or_no(line.holder.is_active), 14),
        Column("Serial", lambda line: words(line.copy), 18),
        Column("Key system", lambda line: line.copy.symbol.system.code, 14),
        Column("Key symbol", lambda line: line.copy.symbol.symbol, 14),
        Column("Out since", lambda line: moment(line.out_at), 24),
        Column("Due back", lambda line: moment(line.due_at), 24),
    ),
)

REGISTER = Table(
    name="register",
    page="keys:register",
    title=gettext_lazy("Register of keys"),
    takers=READERS,
    rows=_register,
    narrowed_by=("q", "day"),
    tells_of_people=True,
    columns=(
        Column("Site", lambda line: line.copy.site.code, 10),
        Column("Serial", lambda line: words(line.copy), 18),
        Column("Key system", lambda line: line.copy.symbol.system.code, 14),
        Column("Key symbol", lambda line: line.copy.symbol.symbol, 14),
        Column("Holder", lambda line: line.holder.name, 28),
        Column("Handed out", lambda line: moment(line.out_at), 24),
        Column("Handed out by", lambda line: words(line.handed_out_by), 24),
        Column("Act", lambda line: line.out_act.number if line.out_act else None, 8),
        Column("Due back", lambda line: moment(line.due_at), 24),
        Column("Ended", lambda line: moment(line.ended_at), 24),
        Column("Ended by", lambda line: words(line.ended_by), 24),
        Column("How", lambda line: line.ending, 14),
        Column("Condition", lambda line: line.condition_back, 12),
    ),
)
