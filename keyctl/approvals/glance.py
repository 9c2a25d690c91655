"""What decisions that wait would open, at a glance: for a list, so without working out the best keys.

Where the first decision has chosen keys, these; before it, the lowest single key that opens every door asked
for, as a hierarchy of keys has it. The request's own page works out what is proposed. A fixed number of
queries, and no key is read further than ``MOST_READ`` cores.
"""

from collections import Counter, defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from uuid import UUID

from django.db.models import OuterRef, QuerySet, Subquery

from keyctl.approvals.models import Grant, KeyRequest, Step
from keyctl.cores.models import Turn
from keyctl.places.models import Door
from keyctl.systems.models import KeySymbol

MOST_READ = 1000


@dataclass(frozen=True)
class Glance:
    """``doors`` counts what the keys open, at every site; None where they turn more than anybody reads.

    ``symbols`` is empty where no single key opens all that is asked for.
    """

    asked: int
    symbols: tuple[KeySymbol, ...]
    are_chosen: bool
    doors: int | None
    critical: int
    restricted: int


def glances(steps: Sequence[Step]) -> dict[UUID, Glance]:
    """By the step; each was fetched for whoever decides it."""
    requests = {step.request_id: step.request for step in steps}
    asked = _asked(requests)
    chosen = _chosen(requests)
    single = _single({pk: asked[pk] for pk in requests if pk not in chosen}, requests)
    by_request = {pk: chosen.get(pk) or single.get(pk, ()) for pk in requests}
    classes = _classes({symbol.pk for symbols in by_request.values() for symbol in symbols})
    return {
        step.pk: _glance(
            len(asked[step.request_id]), by_request[step.request_id], step.request_id in chosen, classes
        )
        for step in steps
    }


def _glance(
    asked: int,
    symbols: tuple[KeySymbol, ...],
    are_chosen: bool,
    classes: Mapping[UUID, Mapping[UUID, str] | None],
) -> Glance:
    doors: dict[UUID, str] = {}
    for symbol in symbols:
        opened = classes[symbol.pk]
        if opened is None:
            return Glance(asked, symbols, are_chosen, None, 0, 0)
        doors |= opened
    counts = Counter(doors.values())
    return Glance(
        asked,
        symbols,
        are_chosen,
        len(doors),
        counts[Door.DoorClass.CRITICAL],
        counts[Door.DoorClass.RESTRICTED],
    )


def _asked(requests: Iterable[UUID]) -> dict[UUID, set[UUID]]:
    rows = KeyRequest.doors.through.objects.filter(keyrequest__in=list(requests))
    found: dict[UUID, set[UUID]] = defaultdict(set)
    for request, door in rows.values_list("keyrequest", "door"):
        found[request].add(door)
    return found


def _chosen(requests: Iterable[UUID]) -> dict[UUID, tuple[KeySymbol, ...]]:
    grants = Grant.objects.filter(request__in=list(requests)).select_related("symbol__system")
    found: dict[UUID, tuple[KeySymbol, ...]] = defaultdict(tuple)
    for grant in grants.defer("symbol__bitting", "symbol__system__design").order_by("symbol__symbol"):
        found[grant.request_id] += (grant.symbol,)
    return found


def _single(
    asked: Mapping[UUID, set[UUID]], requests: Mapping[UUID, KeyRequest]
) -> dict[UUID, tuple[KeySymbol, ...]]:
    """Of the keys that can be handed out at the site and open all of the doors, the lowest."""
    opens: dict[tuple[UUID, UUID], set[UUID]] = defaultdict(set)
    wanted = frozenset[UUID]().union(*asked.values())
    turns = _handed_out().filter(core__housing__door__in=wanted)
    for symbol, site, door in turns.values_list("symbol", "symbol__system__sites", "core__housing__door"):
        opens[symbol, site].add(door)
    symbols = KeySymbol.objects.select_related("system").defer("bitting", "system__design")
    known = symbols.in_bulk({symbol for symbol, _ in opens})
    found: dict[UUID, tuple[KeySymbol, ...]] = {}
    for pk, doors in asked.items():
        site = requests[pk].building.site_id
        fitting = [known[key] for (key, at), turned in opens.items() if at == site and doors <= turned]
        if doors and fitting:
            found[pk] = (min(fitting, key=_height),)
    return found


def _height(key: KeySymbol) -> tuple[bool, int, str, str]:
    """Of equals the first by name, so that the answer is always the same."""
    return key.is_master, -(key.level or 0), key.system.code, key.symbol


def _handed_out() -> QuerySet[Turn]:
    turns = Turn.objects.filter(operates=True, core__housing__isnull=False, symbol__retired_at__isnull=True)
    return turns.exclude(symbol__kind=KeySymbol.Kind.CONTROL).order_by()


def _classes(symbols: set[UUID]) -> dict[UUID, dict[UUID, str] | None]:
    """By key, its doors with their classes; None for a key that turns more cores than are read.

    Whether there are more, the index tells by its thousandth row; only the others are read.
    """
    turned = Turn.objects.filter(symbol=OuterRef("pk"), operates=True).order_by("core").values("pk")
    beyond = KeySymbol.objects.filter(pk__in=symbols).annotate(
        beyond=Subquery(turned[MOST_READ : MOST_READ + 1])
    )
    many = {pk for pk, row in beyond.order_by().values_list("pk", "beyond") if row}
    found: dict[UUID, dict[UUID, str] | None] = {pk: None if pk in many else {} for pk in symbols}
    turns = Turn.objects.filter(symbol__in=symbols - many, operates=True, core__housing__isnull=False)
    places = ("symbol", "core__housing__door", "core__housing__door__door_class")
    for symbol, door, door_class in turns.order_by().values_list(*places):
        opened = found[symbol]
        if opened is not None:
            opened[door] = door_class
    return found
