"""Lost cuts against the pins of every core that such a key enters, at every site, wherever the core is."""

import hashlib
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field
from typing import NamedTuple
from uuid import UUID

from django.db.models import Q, QuerySet

from keyctl import engine
from keyctl.cores.models import Core
from keyctl.cores.turning import BATCH, KeyFamily, pins_of
from keyctl.lib.paging import pages_by_identifier
from keyctl.systems.models import KeySymbol

Symbols = Mapping[UUID, KeySymbol]
# Told now and then how many cores were tried.
Watcher = Callable[[int], None]


class Hit(NamedTuple):
    """A core that a key turned or took out."""

    core: Core
    symbol: UUID
    operates: bool
    withdraws: bool


@dataclass
class Tried:
    """What was read, and what the keys did to it."""

    keys: int = 0
    cores: int = 0
    unknown: int = 0
    sites: set[UUID] = field(default_factory=set)
    hits: list[Hit] = field(default_factory=list)
    digest: str = ""


def try_keys(symbols: Symbols, watch: Watcher | None = None) -> Tried:
    """Every one of these keys on every core that it enters by the blank table."""
    tried, read = Tried(keys=len(symbols)), hashlib.sha256()
    for key in sorted(symbols, key=str):
        read.update(key.bytes + hashlib.sha256(bytes(symbols[key].bitting)).digest())
    for family in families_of(symbols):
        tried.unknown += unknown_cores(family).count()
        entering = [symbol for symbol in symbols.values() if family.lets_in(symbol.system)]
        side = family.key_side(entering)
        for batch in _batches(family):
            _try(side, batch, tried)
            for core in batch:
                read.update(core.pk.bytes + hashlib.sha256(bytes(core.pinning or b"")).digest())
            if watch:
                watch(tried.cores)
    tried.digest = read.hexdigest()
    return tried


def families_of(symbols: Symbols) -> list[KeyFamily]:
    """The cores that the keys enter, by format and keyway, in one fixed order."""
    systems = {symbol.system_id: symbol.system for symbol in symbols.values()}
    found = {family for system in systems.values() for family in KeyFamily.entered_by(system)}
    return sorted(found, key=lambda family: (family.format_id, family.keyway))


def pinned_cores(family: KeyFamily) -> QuerySet[Core]:
    """Of every site, in doors and out of them; a core that is gone opens nothing."""
    return family.pinned().exclude(place=Core.Place.GONE)


def unknown_cores(family: KeyFamily) -> QuerySet[Core]:
    """In doors, with pins that nobody told: of this keyway, or of one that is not known."""
    rows = Core.objects.filter(format_id=family.format_id, pinning__isnull=True, place=Core.Place.HOUSING)
    return rows.filter(Q(system__keyway=family.keyway) | Q(system__isnull=True))


def count_cores(symbols: Symbols) -> int:
    return sum(pinned_cores(family).count() for family in families_of(symbols))


def _batches(family: KeyFamily) -> Iterator[list[Core]]:
    rows = pinned_cores(family).select_related("system", "housing__door__floor__building", "carrier")
    return pages_by_identifier(rows, BATCH)


def _try(keys: "engine.KeySide[UUID]", batch: list[Core], tried: Tried) -> None:
    by_pk = {core.pk: core for core in batch}
    found = engine.turning(keys, {core.pk: pins_of(core) for core in batch})
    tried.hits += [Hit(by_pk[core], key, operates, withdraws) for core, key, operates, withdraws in found]
    tried.cores += len(batch)
    tried.sites |= {core.site_id for core in batch}
