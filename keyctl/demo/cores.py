"""The cores of the invented estate, pinned in bulk by the same engine as a single one."""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime, timedelta
from random import Random
from uuid import UUID

from django.utils import timezone

from keyctl import engine
from keyctl.accounts.models import User
from keyctl.audit.models import Event
from keyctl.audit.services import Subjects, new_event
from keyctl.cores.models import Core, Keying
from keyctl.demo.places import BATCH
from keyctl.demo.plan import FRESH_CORES, HISTORY_DAYS
from keyctl.demo.systems import Keyed
from keyctl.places.models import Housing, Site
from keyctl.systems.models import KeySymbol, KeySystem
from keyctl.systems.selectors import control_of
from keyctl.systems.services import bitting_of
from keyctl.vault import services as vault


@dataclass
class BuiltCore:
    core: Core
    symbol: KeySymbol
    housing: Housing | None


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


def build_cores(keyed: list[Keyed], spares: int, actor: User, rng: Random) -> list[BuiltCore]:
    built = [each for system in keyed for each in _cores_in_doors(system, actor, rng)]
    built += _spare_cores(keyed, spares, actor, rng)
    built += _fresh_cores(keyed[0])
    Core.objects.bulk_create([each.core for each in built], batch_size=BATCH)
    Keying.objects.bulk_create(
        [Keying(core=each.core, symbol=each.symbol, made_at=_registered_at(each.core)) for each in built],
        batch_size=BATCH,
    )
    return built


def core_events(built: list[BuiltCore], actor: User) -> Iterator[tuple[Event, Subjects]]:
    """What history would hold had every core been made in its time."""
    for each in built:
        core, at = each.core, each.core.pinned_at or timezone.now() - timedelta(days=1)
        made = f"registered core {core}, keyed to {each.symbol} of {each.symbol.system.code}"
        yield _event(actor, "core.registered", made, core, at - timedelta(hours=2)), [core, each.symbol]
        if core.is_pinned:
            yield _event(actor, "core.pinned", f"pinned core {core}", core, at), [core]
        if each.housing:
            put = f"put core {core} into {each.housing}"
            yield _event(actor, "core.swapped", put, core, at + timedelta(hours=3)), [core, each.housing.door]


def _cores_in_doors(keyed: Keyed, actor: User, rng: Random) -> list[BuiltCore]:
    pinner = Pinner(keyed.system)
    built = []
    for housing, symbol in keyed.housings:
        core = _new_core(keyed.system, housing.door.site)
        core.place, core.housing = Core.Place.HOUSING, housing
        _pin(core, pinner.pin(symbol), actor, _some_day(rng))
        built.append(BuiltCore(core, symbol, housing))
    return built


def _spare_cores(keyed: list[Keyed], count: int, actor: User, rng: Random) -> list[BuiltCore]:
    interchangeable = [system for system in keyed if system.spares]
    pinners = [Pinner(system.system) for system in interchangeable]
    built = []
    for number in range(count):
        turn, place = divmod(number, len(interchangeable))
        system = interchangeable[place]
        symbol = system.spares[turn % len(system.spares)]
        core = _new_core(system.system, rng.choice(list(system.system.sites.all())))
        _pin(core, pinners[place].pin(symbol), actor, _some_day(rng))
        built.append(BuiltCore(core, symbol, None))
    return built


def _fresh_cores(keyed: Keyed) -> list[BuiltCore]:
    site = keyed.housings[0][0].door.site
    built = [BuiltCore(_new_core(keyed.system, site), symbol, None) for symbol in keyed.spares[-FRESH_CORES:]]
    for each in built:
        each.core.place = Core.Place.BENCH
    return built


def _new_core(system: KeySystem, site: Site) -> Core:
    construction = engine.load_format(system.format_id).construction
    return Core(site=site, system=system, format_id=system.format_id, construction=construction)


def _pin(core: Core, pinned: engine.Pinning, actor: User, at: datetime) -> None:
    core.pinning = vault.seal(core, "pinning", engine.dump(pinned))
    core.pinned_at, core.pinned_by = at, actor


def _registered_at(core: Core) -> datetime:
    """Two hours before it was pinned; a core without pins is a day old."""
    return core.pinned_at - timedelta(hours=2) if core.pinned_at else timezone.now() - timedelta(days=1)


def _some_day(rng: Random) -> datetime:
    """In the working hours of a day of the last two years, leaving room for the swap that follows."""
    day = timezone.localtime() - timedelta(days=rng.randrange(2, HISTORY_DAYS))
    return day.replace(hour=rng.randrange(10, 14), minute=rng.randrange(60))


def _event(actor: User, verb: str, sentence: str, core: Core, at: datetime) -> Event:
    return new_event(actor=actor, verb=verb, sentence=sentence, site_id=core.site_id, at=at)
