"""The estate that is worked on, made in a child of the nursery by the product's own services."""

import random
from typing import Any
from uuid import UUID

from django.conf import settings
from django.core.management import call_command
from django.db import connection
from django.test import Client

from keyctl.accounts.models import User
from keyctl.audit import guards
from keyctl.cores.models import Core
from keyctl.field import services as field
from keyctl.field.views.api import COOKIE
from keyctl.places.models import Floor, Site
from keyctl.places.roles import Role
from keyctl.systems.models import KeySystem
from tests import factories

Json = dict[str, Any]


class _NoMigrations:
    """Tables come from the models, in a tenth of the time."""

    def __contains__(self, _app: str) -> bool:
        return True

    def __getitem__(self, _app: str) -> None:
        return None


def make(tablets: int, doors: int, spares: int, benches: int, migrated: bool) -> Json:
    """What each hand knows when it begins: who it is, its doors, and where its cores are."""
    _make_tables(migrated)
    call_command("vault", "init")
    site = factories.make_site("NORTH")
    smith = factories.make_user("smith", site=site, role=Role.LOCKSMITH)
    system = factories.make_system(site, actor=smith, rng=random.Random(1))
    floor = factories.make_floor(site)
    return {
        "tablets": [_tablet(n, floor, system, doors, spares) for n in range(tablets)],
        "benches": [_bench(n, site, system, spares) for n in range(benches)],
    }


def make_contest(people: int) -> Json:
    """One core that all of them may move; the tables are there."""
    site = factories.make_site("CONTEST")
    smiths = [factories.make_user(f"rival-{n}", site=site, role=Role.LOCKSMITH) for n in range(people)]
    system = factories.make_system(site, actor=smiths[0], code="RIVALS", keyway="R1", rng=random.Random(2))
    core = factories.make_core(actor=smiths[0], site=site, system=system)
    known = [{"person": str(smith.pk), "cookies": _session(smith)} for smith in smiths]
    return {"core": str(core.pk), "tag": core.tag, "version": core.version, "people": known}


def _make_tables(migrated: bool) -> None:
    if migrated:
        call_command("migrate", verbosity=0)
        return
    settings.MIGRATION_MODULES = _NoMigrations()
    call_command("migrate", verbosity=0, run_syncdb=True)
    guards.install(connection)


def _tablet(n: int, floor: Floor, system: KeySystem, doors: int, spares: int) -> Json:
    site = floor.building.site
    user = factories.make_user(f"smith-{n}", site=site, role=Role.LOCKSMITH)
    proof = field.register_device(actor=user, site=site, name=f"Tablet {n}").proof
    cores = [factories.make_core(actor=user, site=site, system=system) for _ in range(doors + spares)]
    housings = [factories.make_housing(door=factories.make_door(floor=floor)) for _ in range(doors)]
    for core, housing in zip(cores, housings, strict=False):
        factories.install(core, housing)
    return {
        "person": str(user.pk),
        "device": proof.split(".")[0],
        "cookies": {COOKIE: proof, **_session(user)},
        "housings": [housing.pk.hex for housing in housings],
        "cores": {core.tag: _spot(core) for core in cores},
    }


def _bench(n: int, site: Site, system: KeySystem, cores: int) -> Json:
    user = factories.make_user(f"bench-{n}", site=site, role=Role.LOCKSMITH)
    made = [factories.make_core(actor=user, site=site, system=system) for _ in range(cores)]
    return {
        "person": str(user.pk),
        "cookies": _session(user),
        "ids": {core.tag: str(core.pk) for core in made},
        "cores": {core.tag: _spot(core) for core in made},
    }


def _spot(core: Core) -> tuple[str, int]:
    return (UUID(str(core.housing_id)).hex if core.housing_id else core.place, core.version)


def _session(user: User) -> dict[str, str]:
    client = Client()
    client.force_login(user)
    return {settings.SESSION_COOKIE_NAME: client.cookies[settings.SESSION_COOKIE_NAME].value}
