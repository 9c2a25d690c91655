"""The cores of the invented estate, pinned in bulk by the same engine as a single one."""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime, timedelta
from random import Random
from uuid import UUID

from keyctl import engine
from keyctl.accounts.models import User
from keyctl.audit.models import Event
from keyctl.audit.services import Subjects, new_event, record_many
from keyctl.cores.models import Core, Keying
from keyctl.demo import names, people
from keyctl.demo.places import BATCH
from keyctl.demo.plan import FRESH_CORES, HISTORY_DAYS, Build
from keyctl.demo.systems import Keyed, build_system
from keyctl.places.models import Housing, Site
from keyctl.places.roles import Role
from keyctl.systems.models import KeySymbol, KeySystem
from keyctl.systems.selectors import control_of
from keyctl.systems.services import bitting_of
from keyctl.vault import services as vault


@dataclass
class BuiltCore:
    core: Core
    symbol: KeySymbol
    housing: Housing | None
    registered_at: datetime


class Pinner:
    """Pins the cores of one system; every bitting is unsealed once."""

    def __init__(self, system: KeySystem) -> None:
        symbols = {symbol.pk: symbol for symbol in system.symbols.all()}
        control = control_of(system)
        self.format_id = system.format_id
        self.control = bitting_of(symbols[control.pk]) if control else None
        self.bittings = {pk: bitting_of(symbol) for pk, symbol in symbols.items()}
        self.parents = {pk: symbol.parent_id for pk, symbol in symbols.items()}

    def pin(self, symbol: KeySymbol) -> engine.Pinning:
        line: list[str] = []
        above: UUID | None = symbol.pk
        while above is not None:
            line.append(self.bittings[above])
            above = self.parents[above]
        return engine.pin(self.format_id, line, self.control)


class Bench:
    """Registers and pins the cores of one system on days of the last two years."""

    def __init__(self, system: KeySystem, actor: User, build: Build, rng: Random) -> None:
        self.system, self.actor, self.today, self.rng = system, actor, build.today, rng
        self.pinner = Pinner(system)
        self.construction = engine.load_format(system.format_id).construction

    def core_in_door(self, housing: Housing, symbol: KeySymbol) -> BuiltCore:
        core = self._new_core(housing.door.site)
        core.place, core.housing = Core.Place.HOUSING, housing
        return self._pinned(core, symbol, housing)

    def spare_cores(self, keyed: Keyed, count: int) -> list[BuiltCore]:
        sites, symbols = keyed.sites, keyed.spares
        return [
            self._pinned(self._new_core(self.rng.choice(sites)), symbols[number % len(symbols)], None)
            for number in range(count)
        ]

    def fresh_cores(self, keyed: Keyed) -> list[BuiltCore]:
        """Without pins; a day old."""
        cores = [self._new_core(keyed.sites[0]) for _ in range(FRESH_CORES)]
        for core in cores:
            core.place = Core.Place.BENCH
        at = self.today - timedelta(days=1)
        symbols = keyed.spares[-FRESH_CORES:]
        return [BuiltCore(core, symbol, None, at) for core, symbol in zip(cores, symbols, strict=True)]

    def _new_core(self, site: Site) -> Core:
        return Core(
            tag=names.tag(self.rng),
            site=site,
            system=self.system,
            format_id=self.system.format_id,
            construction=self.construction,
        )

    def _pinned(self, core: Core, symbol: KeySymbol, housing: Housing | None) -> BuiltCore:
        """Two hours after it was registered."""
        core.pinning = vault.seal(core, "pinning", engine.dump(self.pinner.pin(symbol)))
        core.pinned_at, core.pinned_by = self._some_day(), self.actor
        return BuiltCore(core, symbol, housing, core.pinned_at - timedelta(hours=2))

    def _some_day(self) -> datetime:
        """In the working hours of a day of the last two years, leaving room for the swap that follows."""
        day = self.today - timedelta(days=self.rng.randrange(2, HISTORY_DAYS))
        return day.replace(hour=self.rng.randrange(10, 14), minute=self.rng.randrange(60))


def build_cores(build: Build, nth: int) -> None:
    """A system of the plan with all of its cores, and how history would tell of them."""
    actor, plan = people.made_people()[Role.LOCKSMITH], build.plan.systems[nth]
    keyed = build_system(build, plan, actor)
    rng = build.chance(f"cores {plan.code}")
    bench = Bench(keyed.system, actor, build, rng)
    built = [bench.core_in_door(housing, symbol) for housing, symbol in keyed.housings]
    built += bench.spare_cores(keyed, build.plan.spares_of(nth))
    if nth == 0:
        built += bench.fresh_cores(keyed)
    Core.objects.bulk_create([each.core for each in built], batch_size=BATCH)
    Keying.objects.bulk_create(
        [Keying(core=each.core, symbol=each.symbol, made_at=each.registered_at) for each in built],
        batch_size=BATCH,
    )
    record_many(sorted(core_events(built, actor), key=lambda pair: pair[0].at))


def core_events(built: list[BuiltCore], actor: User) -> Iterator[tuple[Event, Subjects]]:
    """What history would hold had every core been made in its time."""
    for each in built:
        core, at = each.core, each.registered_at
        made = f"registered core {core}, keyed to {each.symbol} of {each.symbol.system.code}"
        yield _event(actor, "core.registered", made, core, at), [core, each.symbol]
        if core.pinned_at:
            yield _event(actor, "core.pinned", f"pinned core {core}", core, core.pinned_at), [core]
        if each.housing:
            put, swapped_at = f"put core {core} into {each.housing}", at + timedelta(hours=5)
            yield _event(actor, "core.swapped", put, core, swapped_at), [core, each.housing.door]


def _event(actor: User, verb: str, sentence: str, core: Core, at: datetime) -> Event:
    return new_event(actor=actor, verb=verb, sentence=sentence, site_id=core.site_id, at=at)
