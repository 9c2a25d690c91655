"""Many cores at once: registered and pinned in batches, with the system's keys read only once."""

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field
from uuid import UUID

from django.db import transaction
from django.utils import timezone
from django.utils.translation import gettext

from keyctl import engine
from keyctl.accounts.models import User
from keyctl.audit.services import record
from keyctl.cores.disputes import refuse_disputed
from keyctl.cores.models import Core, Keying, Turn
from keyctl.cores.services.locking import locked_cores
from keyctl.cores.services.register import refuse_symbols, refuse_system
from keyctl.cores.turning import KeyFamily, turns_of
from keyctl.cores.waiting import IN_HAND
from keyctl.lib.errors import Refused
from keyctl.places.access import require_role
from keyctl.places.models import Site
from keyctl.places.roles import Role
from keyctl.systems.models import KeySymbol, KeySystem
from keyctl.systems.selectors import control_of
from keyctl.systems.services import bitting_of
from keyctl.vault import services as vault

# Small enough that nobody else waits a second for the database, large enough that writing is cheap.
BATCH = 200

# Told after each batch how many cores are through.
Watcher = Callable[[int], None]


@dataclass
class Pinned:
    """The cores that got pins, and those whose keys cannot share one core."""

    cores: list[Core] = field(default_factory=list)
    refused: list[Core] = field(default_factory=list)


@transaction.atomic
def register_cores(
    *, actor: User, site: Site, system: KeySystem, keyings: Sequence[Sequence[KeySymbol]]
) -> list[Core]:
    """New cores on the bench, one for each keying, not pinned yet."""
    require_role(actor, site, Role.LOCKSMITH)
    return write_cores(actor=actor, site=site, system=system, keyings=keyings)


def write_cores(
    *, actor: User, site: Site, system: KeySystem, keyings: Sequence[Sequence[KeySymbol]]
) -> list[Core]:
    """The same inside an act whose own service has asked for its role."""
    if not keyings:
        raise Refused(gettext("Name the keys of one core at least."))
    refuse_system(site, system)
    for symbols in keyings:
        refuse_symbols(system, symbols)
    facts = {"site": site, "system": system, "format_id": system.format_id, "place": Core.Place.BENCH}
    construction = engine.load_format(system.format_id).construction
    cores = Core.objects.bulk_create([Core(**facts, construction=construction) for _ in keyings])
    pairs = [(core, symbol) for core, keying in zip(cores, keyings, strict=True) for symbol in keying]
    Keying.objects.bulk_create([Keying(core=core, symbol=symbol) for core, symbol in pairs])
    record(
        actor=actor,
        verb="core.registered_many",
        sentence=f"registered {_count(cores)} of {system.code}, {_range(keyings)}",
        site_id=site.pk,
        subjects=[system, *cores, *(symbol for _, symbol in pairs)],
        detail={"cores": len(cores)},
    )
    return cores


def pin_cores(*, actor: User, cores: Sequence[Core], watch: Watcher | None = None) -> Pinned:
    """Work out the pins of many cores in batches, each kept by itself. Pinned cores are left as they are."""
    for site in {core.site for core in cores}:
        require_role(actor, site, Role.LOCKSMITH)
    result, done = Pinned(), 0
    for system, batches in _by_system(cores):
        pinner = Pinner(actor, system)
        for batch in batches:
            with transaction.atomic():
                found = pinner.pin([core.pk for core in batch])
            result.cores += found.cores
            result.refused += found.refused
            done += len(batch)
            if watch:
                watch(done)
    return result


class Pinner:
    """Pins cores of one system. Its masters are unsealed once, and all keys of its keyway are read once."""

    def __init__(self, actor: User, system: KeySystem) -> None:
        self.actor, self.system = actor, system
        self.family = KeyFamily.of(system)
        self.bittings: dict[UUID, str] = {}
        control = control_of(system)
        self.control = bitting_of(control) if control else None
        # Before the first transaction: reading many keys takes seconds in which nobody shall wait.
        self._read_keys()

    def pin(self, cores: Sequence[UUID]) -> Pinned:
        """One batch, inside the caller's transaction."""
        self._hold_keys()
        found = [core for core in locked_cores(cores).values() if not core.is_pinned]
        _refuse_out_of_hand(found)
        result, turns = Pinned(), list[Turn]()
        for core, pins in self._worked_out(found):
            if pins is None:
                result.refused.append(core)
            else:
                result.cores.append(core)
                turns += self._stored(core, pins)
        Turn.objects.filter(core__in=result.cores).delete()
        Turn.objects.bulk_create(turns, batch_size=2000)
        _record_pinned(self.actor, self.system, result.cores)
        return result

    def _hold_keys(self) -> None:
        """No key is added while a batch is pinned; those that enter since the last batch are read."""
        self.family.hold()
        if self._what_enters() != self.entering:
            self._read_keys()

    def _read_keys(self) -> None:
        self.entering = self._what_enters()
        self.keys = self.family.keys()
        self.masters = {key.pk: key for key in self.system.symbols.filter(kind=KeySymbol.Kind.MASTER)}

    def _what_enters(self) -> tuple[list[str], int]:
        """The blanks and how many keys: another answer where keys or fits of the blank table were added."""
        return self.family.blanks(), self.family.symbols().count()

    def _worked_out(self, cores: Sequence[Core]) -> Iterator[tuple[Core, engine.Pinning | None]]:
        """Each core with its pins; without where its keys cannot share one core."""
        keyed = _keyed_to(cores)
        for core in cores:
            line = {key.pk: key for symbol in keyed[core.pk] for key in self._line(symbol)}
            try:
                pins = engine.pin(core.format_id, sorted(map(self._bitting, line.values())), self.control)
            except Refused:
                pins = None
            yield core, pins

    def _line(self, symbol: KeySymbol) -> Iterator[KeySymbol]:
        if not symbol.is_retired:
            yield symbol
        above = symbol.parent_id
        while above is not None:
            master = self.masters[above]
            if not master.is_retired:
                yield master
            above = master.parent_id

    def _bitting(self, symbol: KeySymbol) -> str:
        """A master stands above many cores and is unsealed once; a change key is not kept."""
        if symbol.pk not in self.masters:
            return bitting_of(symbol)
        if symbol.pk not in self.bittings:
            self.bittings[symbol.pk] = bitting_of(symbol)
        return self.bittings[symbol.pk]

    def _stored(self, core: Core, pins: engine.Pinning) -> list[Turn]:
        core.pinning = vault.seal(core, "pinning", engine.dump(pins))
        core.pinned_at, core.pinned_by = timezone.now(), self.actor
        core.version += 1
        core.save(update_fields=["pinning", "pinned_at", "pinned_by", "version"])
        return turns_of(core, pins, self.keys)


def _by_system(cores: Sequence[Core]) -> Iterator[tuple[KeySystem, Iterator[Sequence[Core]]]]:
    groups: dict[KeySystem, list[Core]] = {}
    for core in cores:
        if core.system is None:
            raise Refused(gettext("Core {core} is keyed to no system; key it first.").format(core=core))
        groups.setdefault(core.system, []).append(core)
    for system, found in groups.items():
        yield system, (found[start : start + BATCH] for start in range(0, len(found), BATCH))


def _keyed_to(cores: Sequence[Core]) -> dict[UUID, list[KeySymbol]]:
    keyed: dict[UUID, list[KeySymbol]] = {core.pk: [] for core in cores}
    for keying in Keying.objects.filter(core__in=keyed).select_related("symbol"):
        keyed[keying.core_id].append(keying.symbol)
    return keyed


def _refuse_out_of_hand(cores: Sequence[Core]) -> None:
    if away := next((core for core in cores if core.place not in IN_HAND), None):
        raise Refused(
            gettext("Core {away} is {whereabouts}; bring it to the bench first.").format(
                away=away, whereabouts=away.whereabouts
            )
        )
    refuse_disputed(*cores)


def _record_pinned(actor: User, system: KeySystem, cores: Sequence[Core]) -> None:
    by_site: dict[Site, list[Core]] = {}
    for core in cores:
        by_site.setdefault(core.site, []).append(core)
    for site, found in by_site.items():
        record(
            actor=actor,
            verb="core.pinned_many",
            sentence=f"pinned {_count(found)} of {system.code}",
            site_id=site.pk,
            subjects=[system, *found],
            detail={"format": system.format_id, "cores": len(found)},
        )


def _count(cores: Sequence[Core]) -> str:
    return f"{len(cores)} core{'' if len(cores) == 1 else 's'}"


def _range(keyings: Sequence[Sequence[KeySymbol]]) -> str:
    first, last = keyings[0][0], keyings[-1][-1]
    return f"keyed to {first}" if first == last else f"keyed to {first} to {last}"
