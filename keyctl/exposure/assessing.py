"""The job that works out how exposed a site's cores are, and counts the incidental keys of their scopes."""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from datetime import datetime
from itertools import islice
from typing import Any
from uuid import UUID

from django.db import transaction
from django.db.models import QuerySet
from django.utils.translation import gettext

from keyctl import engine
from keyctl.audit.services import record
from keyctl.cores.models import Core
from keyctl.cores.proof import families
from keyctl.cores.selectors import planned_keys
from keyctl.cores.turning import KeyFamily
from keyctl.engine import exposure
from keyctl.exposure.access import MAY_LOOK_CLOSER
from keyctl.exposure.models import CoreExposure, IncidentalCount
from keyctl.jobs.running import Running
from keyctl.lib.errors import Refused
from keyctl.places.access import require_role
from keyctl.places.models import Site
from keyctl.systems.models import KeySymbol, KeySystem
from keyctl.systems.services import bitting_of

KIND = "exposure"
BATCH = 200
LARGEST_NUMBER = 2**63 - 1  # that a column holds

Pinned = tuple[Core, engine.Pinning]


def assess_site(running: Running) -> dict[str, Any]:
    """Family by family; what a stop interrupts is done again from the beginning of its family."""
    site = running.job.site
    require_role(running.actor, site, *MAY_LOOK_CLOSER)
    used = [family for family in families() if _is_used(family, site)]
    progress = _Progress(running, sum(_pinned_cores(family).count() for family in used))
    done: list[list[str]] = running.checkpoint.get("families", [])
    for family in used:
        if [family.format_id, family.keyway] in done:
            progress.skip(_pinned_cores(family).count())
            continue
        found = _Assessment(family, site)
        found.go_through(progress)
        with transaction.atomic():
            found.count()
            done.append([family.format_id, family.keyway])
            running.save({"families": done})
    return _finish(running, site)


def _is_used(family: KeyFamily, site: Site) -> bool:
    return _pinned_cores(family).filter(site=site).exists()


def _pinned_cores(family: KeyFamily) -> QuerySet[Core]:
    return family.pinned().exclude(place=Core.Place.GONE)


@dataclass
class _Progress:
    running: Running
    total: int
    done: int = 0

    def skip(self, number: int) -> None:
        self.done += number

    def step(self, number: int, family: KeyFamily) -> None:
        self.done += number
        words = gettext("Cores of keyway {keyway}").format(keyway=family.keyway)
        self.running.step(self.done, self.total, words)


@dataclass
class _Scope:
    """The different boxes of some cores, by line; how many cores, and when the last of them was pinned."""

    boxes: dict[str, set[Any]] = field(default_factory=dict)
    cores: int = 0
    pinned_until: datetime | None = None

    def add(self, core: Core, pinned: engine.Pinning) -> None:
        self.cores += 1
        self.pinned_until = max(filter(None, (self.pinned_until, core.pinned_at)))
        for line in exposure.lines_of(pinned.format):
            self.boxes.setdefault(line, set()).add(exposure.box_at(pinned, line))


class _Assessment:
    """One family's keys, and its cores as they go by."""

    def __init__(self, family: KeyFamily, site: Site) -> None:
        self.family, self.site = family, site
        self.symbols = {symbol.pk: symbol for symbol in family.symbols()}
        self.keys = {
            pk: engine.read_key(family.format_id, bitting_of(symbol)) for pk, symbol in self.symbols.items()
        }
        self.near = exposure.NearKeys(self.keys)
        self.here, self.everywhere = _Scope(), _Scope()
        self.systems: dict[UUID, _Scope] = {}

    def go_through(self, progress: _Progress) -> None:
        """Every core of the family goes into the counts, the site's own are also looked at one by one."""
        cores = (pair for pair in self.family.cores() if pair[0].place != Core.Place.GONE)
        for batch in _batches(cores):
            for core, pinned in batch:
                self._add(core, pinned)
            self._store([pair for pair in batch if pair[0].site_id == self.site.pk])
            progress.step(len(batch), self.family)

    def _add(self, core: Core, pinned: engine.Pinning) -> None:
        assert core.system_id is not None  # noqa: S101 (the family's cores have a system)
        self.everywhere.add(core, pinned)
        self.systems.setdefault(core.system_id, _Scope()).add(core, pinned)
        if core.site_id == self.site.pk:
            self.here.add(core, pinned)

    def _store(self, pairs: list[Pinned]) -> None:
        planned = planned_keys(core.pk for core, _ in pairs)
        rows = [self._exposure(core, pinned, list(planned[core.pk])) for core, pinned in pairs]
        with transaction.atomic():
            CoreExposure.objects.filter(core__in=[core for core, _ in pairs]).delete()
            CoreExposure.objects.bulk_create(rows)

    def _exposure(self, core: Core, pinned: engine.Pinning, planned: list[UUID]) -> CoreExposure:
        meant = [self.keys[pk] for pk in planned if pk in self.keys]
        found = exposure.expose(pinned, meant)
        if found.accepts > LARGEST_NUMBER:
            raise Refused(
                gettext(
                    "Core {core} lets in more bittings than can be written down; read its pins again."
                ).format(core=core)
            )
        near = {
            line: sum(1 for _ in self.near.near(pinned, line)) for line in exposure.lines_of(pinned.format)
        }
        return CoreExposure(
            core=core,
            pinned_at=_moment(core.pinned_at),
            keys=len(self.keys),
            accepts=found.accepts,
            unplanned=found.unplanned,
            needed=exposure.pinned_for(pinned, meant).accepts if meant else found.accepts,
            wafers=found.wafers,
            idle_wafers=found.idle_wafers,
            trials=found.trials,
            blanks=found.blanks,
            near_turning=near.get(exposure.OPERATING_LINE, 0),
            near_withdrawing=near.get(exposure.CONTROL_LINE, 0),
            without=self._without(pinned, planned),
        )

    def _without(self, pinned: engine.Pinning, planned: list[UUID]) -> list[list[Any]]:
        """What leaving out each master would save, from the top down."""
        symbols = sorted((self.symbols[pk] for pk in planned if pk in self.symbols), key=_from_the_top)
        groups = {symbol.symbol: [self.keys[symbol.pk]] for symbol in symbols}
        found = exposure.without_each(pinned, groups)
        masters = [symbol.symbol for symbol in symbols if symbol.is_master and symbol.symbol in found]
        return [[name, found[name].accepts, found[name].wafers] for name in masters]

    def count(self) -> None:
        """Count every scope anew."""
        keys = list(self.keys.values())
        self._keep(self.everywhere, keys, site=None, system=None)
        self._keep(self.here, keys, site=self.site, system=None)
        for system in KeySystem.objects.filter(pk__in=self.systems):
            self._keep(self.systems[system.pk], keys, site=None, system=system)

    def _keep(
        self, scope: _Scope, keys: list[engine.Bitting], *, site: Site | None, system: KeySystem | None
    ) -> None:
        for line, boxes in scope.boxes.items():
            counted = exposure.count_unplanned(self.family.format_id, boxes, keys)
            if counted.high > LARGEST_NUMBER:
                continue
            wanted: dict[str, Any] = {
                "format_id": self.family.format_id,
                "keyway": self.family.keyway,
                "site": site,
                "system": system,
                "line": line,
            }
            IncidentalCount.objects.filter(**wanted).delete()
            IncidentalCount.objects.create(
                **wanted,
                cores=scope.cores,
                keys=len(keys),
                pinned_until=_moment(scope.pinned_until),
                number=counted.number,
                low=counted.low,
                high=counted.high,
            )


def _moment(at: datetime | None) -> datetime:
    """Only pinned cores go by, and the database says when each was pinned."""
    if at is None:
        raise AssertionError
    return at


def _from_the_top(symbol: KeySymbol) -> tuple[int, str]:
    return symbol.level or 0, symbol.symbol


def _batches(pairs: Iterable[Pinned]) -> Iterator[list[Pinned]]:
    left = iter(pairs)
    while batch := list(islice(left, BATCH)):
        yield batch


def _finish(running: Running, site: Site) -> dict[str, Any]:
    number = CoreExposure.objects.filter(core__site=site).count()
    with transaction.atomic():
        record(
            actor=running.actor,
            verb="exposure.assessed",
            sentence=f"assessed how exposed {number} cores at {site} are",
            site_id=site.pk,
            subjects=[site],
            detail={"cores": number},
        )
    return {
        "sentence": gettext("{number} cores at {site} are assessed.").format(number=number, site=site),
        "cores": number,
    }
