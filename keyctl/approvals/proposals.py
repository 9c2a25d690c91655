"""Which keys would open the doors a request asks for, by the pins, and what else they would open."""

import hashlib
from collections import defaultdict
from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass
from uuid import UUID

from django.core.cache import caches
from django.db.models import QuerySet
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy, ngettext

from keyctl import engine
from keyctl.approvals.models import KeyRequest
from keyctl.cores.models import Core, Turn
from keyctl.lib.language import Text
from keyctl.places.models import Door, Site
from keyctl.systems.models import KeySymbol

SINGLE = gettext_lazy("A single key")
SEVERAL = gettext_lazy("Several keys")
FEWER = gettext_lazy("Several keys, fewer extra doors")
CHOSEN = gettext_lazy("The keys that were chosen")
MANY_EXTRA = 10
MOST_PROPOSED = 4
# Effort is counted in steps of the solver, not by the clock, so that whoever approves gets the proposals that
# the page showed; and for so long the same question is not worked out again.
EFFORT = 6.0
LIMIT_S = 40.0
REMEMBERED_S = 1800

Opened = Mapping[UUID, frozenset[UUID]]


@dataclass(frozen=True)
class Proposal:
    symbols: tuple[KeySymbol, ...]
    # Identifiers of doors: all that the keys open, and those of them that nobody asked for.
    doors: frozenset[UUID]
    extra: frozenset[UUID]
    label: Text
    # No as small a set of keys opens fewer extra doors, and no smaller one as few.
    is_proven: bool

    @property
    def key(self) -> str:
        """Names the keys and their effect; it changes when either does, so nobody approves another effect."""
        return _key(self.symbols, self.doors)

    @property
    def is_chosen(self) -> bool:
        return self.label == CHOSEN

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
    """Fewest extra doors against fewest keys, the former first; what both agree on stands alone.

    Each is the best there is for its number of keys, or says that it is not proven. All open every asked
    door that some key opens; ``doors_without_opener`` names the others. Four queries, however many doors
    there are.
    """
    asked = frozenset(request.doors.values_list("pk", flat=True))
    candidates = _candidates(asked, request.building.site)
    if not candidates:
        return []
    symbols = KeySymbol.objects.select_related("system").in_bulk(list(candidates))
    opened = _opens(candidates)
    opens = {pk: opened[pk] for pk in sorted(symbols, key=lambda pk: _rank(symbols[pk]))}
    needed = sorted(asked & frozenset[UUID]().union(*opens.values()))
    front = _front(opens, needed)
    shown = a_few(front)[::-1]
    return [_proposal(chosen, opens, asked, symbols, _label(chosen, shown)) for chosen in shown]


def key_now(symbols: Collection[KeySymbol]) -> str:
    """What ``Proposal.key`` is of these keys as the cores are now: one query, no choice of keys."""
    return _key(symbols, doors_of([symbol.pk for symbol in symbols]))


def as_chosen(request: KeyRequest) -> Proposal | None:
    """The keys that the first decision chose, and what they open now; None where none are chosen."""
    grants = request.grants.select_related("symbol__system").order_by("symbol__symbol")
    symbols = tuple(grant.symbol for grant in grants)
    if not symbols:
        return None
    doors = doors_of([symbol.pk for symbol in symbols])
    asked = frozenset(request.doors.values_list("pk", flat=True))
    return Proposal(symbols, doors, doors - asked, CHOSEN, is_proven=False)


def doors_of(symbols: Collection[UUID]) -> frozenset[UUID]:
    """All doors that one of the keys opens, at every site."""
    return frozenset[UUID]().union(*_opens(symbols).values())


def doors_without_opener(request: KeyRequest) -> list[ClosedDoor]:
    site = request.building.site
    opened = turns_at(site).filter(core__housing__door__in=request.doors.all())
    doors = request.doors.exclude(pk__in=opened.values("core__housing__door")).with_places()
    cores: dict[UUID, list[bool]] = defaultdict(list)
    rows = Core.objects.filter(housing__door__in=doors).values_list("housing__door", "pinned_at")
    for door, pinned_at in rows:
        cores[door].append(pinned_at is not None)
    return [ClosedDoor(door, _why(cores[door.pk])) for door in doors]


def _front(opens: Opened, needed: list[UUID]) -> "list[engine.KeySet[UUID]]":
    """Remembered by all that it rests on: were a core or a key another, the question would be another."""
    name = hashlib.sha256(repr((EFFORT, LIMIT_S, needed)).encode())
    for symbol, doors in opens.items():
        name.update(b"|" + symbol.bytes + b"".join(sorted(door.bytes for door in doors)))
    place = f"front-{name.hexdigest()}"
    cache = caches["process"]
    front: list[engine.KeySet[UUID]] | None = cache.get(place)
    if front is None:
        front = engine.choose_keys(opens, needed, limit_s=LIMIT_S, effort=EFFORT)
        cache.set(place, front, REMEMBERED_S)
    return front


def _key(symbols: Collection[KeySymbol], doors: frozenset[UUID]) -> str:
    names = sorted(symbol.pk.bytes for symbol in symbols)
    return hashlib.sha256(b"".join([*names, b"|", *sorted(door.bytes for door in doors)])).hexdigest()[:20]


def _why(pinned: list[bool]) -> str:
    if not pinned:
        return _("there is no core in it")
    if not any(pinned):
        return _("its core is not pinned yet")
    return _("no key of this site turns its core")


def a_few(front: list["engine.KeySet[UUID]"], most: int = MOST_PROPOSED) -> list["engine.KeySet[UUID]"]:
    """The fewest keys, the fewest extra doors, and between them those that gain most at a step."""
    inner = range(1, len(front) - 1)
    gains = sorted(inner, key=lambda place: (front[place].extra - front[place - 1].extra, place))
    kept = {0, len(front) - 1, *gains[: most - 2]}
    return [chosen for place, chosen in enumerate(front) if place in kept]


def _label(chosen: "engine.KeySet[UUID]", shown: list["engine.KeySet[UUID]"]) -> str:
    if len(chosen.keys) == 1:
        return str(SINGLE)
    if len(shown) == 1:
        return str(SEVERAL)
    if len(shown) == 2 and chosen is shown[0]:
        return str(FEWER)
    number, extra = len(chosen.keys), _extra_doors(chosen.extra)
    return ngettext("{count} key, {extra}", "{count} keys, {extra}", number).format(count=number, extra=extra)


def _extra_doors(number: int) -> str:
    if not number:
        return _("no extra doors")
    return ngettext("{count} extra door", "{count} extra doors", number).format(count=number)


def turns_at(site: Site) -> QuerySet[Turn]:
    """What keys that can be handed out at the site do to cores that are in doors."""
    turns = Turn.objects.filter(operates=True, core__housing__isnull=False, symbol__system__sites=site)
    return turns.filter(symbol__retired_at__isnull=True).exclude(symbol__kind=KeySymbol.Kind.CONTROL)


def _candidates(asked: frozenset[UUID], site: Site) -> frozenset[UUID]:
    """What is retired after a loss is not cut again, so it is not proposed."""
    turns = turns_at(site).filter(core__housing__door__in=asked, symbol__retired_at__isnull=True)
    return frozenset(turns.values_list("symbol", flat=True))


def _opens(symbols: Collection[UUID]) -> Opened:
    """At every site: a key that also opens a door elsewhere opens it all the same."""
    turns = Turn.objects.filter(operates=True, core__housing__isnull=False, symbol__in=symbols)
    return _grouped(turns.values_list("symbol", "core__housing__door"))


def _grouped(rows: Iterable[tuple[UUID, UUID]]) -> Opened:
    doors: dict[UUID, set[UUID]] = defaultdict(set)
    for symbol, door in rows:
        doors[symbol].add(door)
    return {symbol: frozenset(opened) for symbol, opened in doors.items()}


def _rank(symbol: KeySymbol) -> tuple[int, str, str]:
    """Among equals the key lowest in its system, then by name, so that the answer is always the same."""
    return -(symbol.level or 0), symbol.system.code, symbol.symbol


def _proposal(
    chosen: "engine.KeySet[UUID]",
    opens: Opened,
    asked: frozenset[UUID],
    symbols: Mapping[UUID, KeySymbol],
    label: str,
) -> Proposal:
    doors = frozenset[UUID]().union(*(opens[key] for key in chosen.keys))
    return Proposal(
        symbols=tuple(symbols[key] for key in chosen.keys),
        doors=doors,
        extra=doors - asked,
        label=label,
        is_proven=chosen.is_proven,
    )
