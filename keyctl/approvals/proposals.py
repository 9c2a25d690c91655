"""Which keys would open the doors a request asks for, by the pins, and what else they would open."""

import hashlib
from collections import defaultdict
from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass, replace
from uuid import UUID

from django.db.models import Count, QuerySet

from keyctl.approvals.covering import key_per_door, opened_by, single_key, without_needless
from keyctl.approvals.models import KeyRequest
from keyctl.cores.models import Core, Turn
from keyctl.places.models import Door, Site
from keyctl.systems.models import KeySymbol

SINGLE = "A single key"
SEVERAL = "Several keys"
FEWER = "Several keys, fewer extra doors"
MANY_EXTRA = 10

Opened = Mapping[UUID, frozenset[UUID]]


@dataclass(frozen=True)
class Proposal:
    symbols: tuple[KeySymbol, ...]
    # Identifiers of doors: all that the keys open, and those of them that nobody asked for.
    doors: frozenset[UUID]
    extra: frozenset[UUID]
    label: str

    @property
    def key(self) -> str:
        """Names the keys and their effect; it changes when either does, so nobody approves another effect."""
        names = sorted(str(symbol.pk) for symbol in self.symbols) + sorted(map(str, self.doors))
        return hashlib.sha256("|".join(names).encode()).hexdigest()[:20]

    @property
    def has_master(self) -> bool:
        return any(symbol.is_master for symbol in self.symbols)

    @property
    def opens_many(self) -> bool:
        return len(self.extra) >= MANY_EXTRA


@dataclass(frozen=True)
class ClosedDoor:
    """A door that no key can be proposed for, and why."""

    door: Door
    why: str


def proposals_for(request: KeyRequest) -> list[Proposal]:
    """Several keys with few extra doors, and the best single key; the latter alone where it is no worse.

    The single key is the best there is. The several are chosen door by door and then thinned out: good, not
    proven the best. Both open every asked door that some key opens; ``doors_without_opener`` names the
    others. Five queries, however many doors there are.
    """
    asked = frozenset(request.doors.values_list("pk", flat=True))
    asked_by = _asked_by(asked, request.building.site)
    if not asked_by:
        return []
    totals = _totals(asked_by)
    symbols = _symbols(asked_by)
    picked = key_per_door(asked_by, totals, lambda pk: _rank(symbols[pk]))
    single = single_key(asked_by, totals, lambda pk: _rank(symbols[pk]))
    opens = _opens(picked | {single} if single else picked)
    few = _proposal(without_needless(picked, opens, asked), opens, asked, symbols, SEVERAL)
    if single is None:
        return [few]
    return _told_apart(few, _proposal({single}, opens, asked, symbols, SINGLE))


def doors_without_opener(request: KeyRequest) -> list[ClosedDoor]:
    site = request.building.site
    opened = _turns_at(site).filter(core__housing__door__in=request.doors.all())
    doors = request.doors.exclude(pk__in=opened.values("core__housing__door")).with_places()
    cores: dict[UUID, list[bool]] = defaultdict(list)
    rows = Core.objects.filter(housing__door__in=doors).values_list("housing__door", "pinned_at")
    for door, pinned_at in rows:
        cores[door].append(pinned_at is not None)
    return [ClosedDoor(door, _why(cores[door.pk])) for door in doors]


def _why(pinned: list[bool]) -> str:
    if not pinned:
        return "there is no core in it"
    if not any(pinned):
        return "its core is not pinned yet"
    return "no key of this site turns its core"


def _told_apart(few: Proposal, single: Proposal) -> list[Proposal]:
    """Where one key adds no more doors than several, the several are pointless."""
    if len(single.extra) <= len(few.extra):
        return [single]
    return [replace(few, label=FEWER), single]


def _turns_at(site: Site) -> QuerySet[Turn]:
    """What keys that can be handed out at the site do to cores that are in doors."""
    turns = Turn.objects.filter(operates=True, core__housing__isnull=False, symbol__system__sites=site)
    return turns.exclude(symbol__kind=KeySymbol.Kind.CONTROL)


def _asked_by(asked: frozenset[UUID], site: Site) -> Opened:
    rows = _turns_at(site).filter(core__housing__door__in=asked)
    return _grouped(rows.values_list("symbol", "core__housing__door"))


def _totals(symbols: Collection[UUID]) -> Mapping[UUID, int]:
    rows = _in_doors(symbols).values_list("symbol").annotate(Count("core__housing__door", distinct=True))
    return dict(rows)


def _opens(symbols: Collection[UUID]) -> Opened:
    return _grouped(_in_doors(symbols).values_list("symbol", "core__housing__door"))


def _in_doors(symbols: Collection[UUID]) -> QuerySet[Turn]:
    """At every site: a key that also opens a door elsewhere opens it all the same."""
    return Turn.objects.filter(operates=True, core__housing__isnull=False, symbol__in=symbols)


def _symbols(pks: Collection[UUID]) -> Mapping[UUID, KeySymbol]:
    return KeySymbol.objects.select_related("system").in_bulk(list(pks))


def _grouped(rows: Iterable[tuple[UUID, UUID]]) -> Opened:
    doors: dict[UUID, set[UUID]] = defaultdict(set)
    for symbol, door in rows:
        doors[symbol].add(door)
    return {symbol: frozenset(opened) for symbol, opened in doors.items()}


def _rank(symbol: KeySymbol) -> tuple[int, str, str]:
    """Among equals the key lowest in its system, then by name, so that the answer is always the same."""
    return -(symbol.level or 0), symbol.system.code, symbol.symbol


def _proposal(
    keys: set[UUID],
    opens: Opened,
    asked: frozenset[UUID],
    symbols: Mapping[UUID, KeySymbol],
    label: str,
) -> Proposal:
    doors = opened_by(keys, opens)
    ordered = sorted((symbols[key] for key in keys), key=_rank)
    return Proposal(symbols=tuple(ordered), doors=doors, extra=doors - asked, label=label)
