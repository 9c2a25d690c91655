"""What keys for doors would roughly take, at once and whatever the size of the estate.

Keys of few doors are read door by door; of a master over a great many only how many it opens. Keys are then
picked one by one, so that better ones may exist: the proven choice follows (``proposals``).
"""

from collections import defaultdict
from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass
from uuid import UUID

from django.db.models import Count

from keyctl import engine
from keyctl.approvals.proposals import a_few, turns_at
from keyctl.cores.models import Turn
from keyctl.places.models import Site
from keyctl.systems.models import KeySymbol

# Doors are read for so many turns in all, the keys of fewest doors first.
MOST_READ = 4_000
MOST_SHOWN = 3
QUICK_DOORS = 6
QUICK_TURNS = 3_000


@dataclass(frozen=True)
class Rough:
    """A way to open the doors: ``extra`` doors beyond them at most. Whoever only asks is told no key."""

    keys: int
    extra: int
    symbols: tuple[UUID, ...]


@dataclass(frozen=True)
class Preview:
    ways: tuple[Rough, ...]
    # Doors that no key opens yet.
    closed: int
    # So little to choose from that the proven choice takes no longer than a page may.
    is_quick: bool = True


def preview_of(doors: Collection[UUID], site: Site) -> Preview:
    """Few extra doors first. Three queries, of which none reads what a wide key opens."""
    asked = frozenset(doors)
    opens: dict[UUID, set[UUID]] = defaultdict(set)
    turns = turns_at(site).filter(core__housing__door__in=asked)
    for symbol, door in turns.values_list("symbol", "core__housing__door"):
        opens[symbol].add(door)
    needed = frozenset[UUID]().union(*opens.values())
    if not needed:
        return Preview((), len(asked))
    counts = _counts(opens)
    listed, more = _listed(opens, counts)
    front = engine.preview_keys(listed, sorted(needed), more=more)
    ways = tuple(Rough(len(each.keys), each.extra, each.keys) for each in a_few(front, MOST_SHOWN)[::-1])
    is_quick = len(needed) <= QUICK_DOORS and sum(counts.values()) <= QUICK_TURNS
    return Preview(ways, len(asked - needed), is_quick)


def named_ways(preview: Preview) -> list[tuple[Rough, list[KeySymbol]]]:
    """Each way with its keys, for whoever decides."""
    symbols = KeySymbol.objects.in_bulk([pk for way in preview.ways for pk in way.symbols])
    return [(way, [symbols[pk] for pk in way.symbols]) for way in preview.ways]


def _counts(symbols: Iterable[UUID]) -> dict[UUID, int]:
    """How many cores each key turns or withdraws: answered by an index alone."""
    rows = Turn.objects.filter(symbol__in=list(symbols)).order_by().values_list("symbol")
    return dict(rows.annotate(number=Count("*")))


def _listed(
    opens: Mapping[UUID, set[UUID]], counts: Mapping[UUID, int]
) -> tuple[dict[UUID, set[UUID]], dict[UUID, int]]:
    """(what each key opens as far as it is read, how many further doors those open that are not read)."""
    in_order = sorted(opens, key=lambda symbol: (counts[symbol], symbol))
    narrow, left = list[UUID](), MOST_READ
    for symbol in in_order:
        left -= counts[symbol]
        if left < 0:
            break
        narrow.append(symbol)
    listed = {symbol: set(opens[symbol]) for symbol in in_order}
    turns = Turn.objects.filter(operates=True, core__housing__isnull=False, symbol__in=narrow)
    for symbol, door in turns.values_list("symbol", "core__housing__door"):
        listed[symbol].add(door)
    more = {symbol: counts[symbol] - len(opens[symbol]) for symbol in in_order[len(narrow) :]}
    return listed, {symbol: max(0, number) for symbol, number in more.items()}
