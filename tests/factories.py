"""Invented records with sane defaults; every fact a test cares about is named by the test."""

import itertools
import random
from typing import Any

from keyctl import engine
from keyctl.accounts.models import User
from keyctl.cores import services as cores
from keyctl.cores.models import Core
from keyctl.jobs.models import Job, JobFile
from keyctl.keys.models import Cabinet, Custody, Handover, Holder, KeyCopy
from keyctl.places.models import Building, Door, Floor, Housing, Membership, Site, Space
from keyctl.places.roles import Role
from keyctl.systems import services as systems
from keyctl.systems.models import KeySymbol, KeySystem, SystemDraft
from keyctl.vault import services as vault

_number = itertools.count(1)

PASSWORD = "bench ledger lamp"


def make_user(name: str = "", *, site: Site | None = None, role: Role | None = None) -> User:
    name = name or f"person-{next(_number)}"
    user = User.objects.create_user(name, display_name=name.replace("-", " ").title(), password=PASSWORD)
    if site and role:
        Membership.objects.create(user=user, site=site, role=role)
    return user


def make_site(code: str = "") -> Site:
    code = code or f"S{next(_number)}"
    return Site.objects.create(code=code, name=f"{code.title()} site")


def make_floor(site: Site | None = None, *, building: Building | None = None) -> Floor:
    if building is None:
        code = f"B{next(_number)}"
        building = Building.objects.create(site=site or make_site(), code=code, name=f"House {code}")
    return Floor.objects.create(building=building, label=f"Level {next(_number)}", level=0)


def make_space(floor: Floor | None = None, **facts: Any) -> Space:
    facts.setdefault("number", f"{next(_number)}")
    return Space.objects.create(floor=floor or make_floor(), **facts)


def make_door(site: Site | None = None, *, floor: Floor | None = None, **facts: Any) -> Door:
    facts.setdefault("number", f"{next(_number):03}")
    return Door.objects.create(floor=floor or make_floor(site), **facts)


def make_housing(site: Site | None = None, *, door: Door | None = None, **facts: Any) -> Housing:
    facts.setdefault("kind", Housing.Kind.MORTISE)
    facts.setdefault("construction", "small-format")
    return Housing.objects.create(door=door or make_door(site), **facts)


def make_system(
    *sites: Site,
    actor: User,
    levels: tuple[tuple[tuple[int, ...], int], ...] = (((1, 2), 2), ((3, 4), 2)),
    **facts: Any,
) -> KeySystem:
    """A small three-level system: two masters with two changes each, seven-position A2 unless told."""
    facts.setdefault("code", f"KS{next(_number)}")
    facts.setdefault("name", f"System {facts['code']}")
    facts.setdefault("format_id", "small-a2-7")
    facts.setdefault("keyway", f"W{next(_number)}")
    facts.setdefault("rng", random.Random(7))
    groups = [list(group) for group, _ in levels]
    children = [count for _, count in levels]
    return systems.design_system(actor=actor, sites=list(sites), groups=groups, children=children, **facts)


def make_draft(*sites: Site, actor: User, needs: tuple[int, ...] = (2, 3), **facts: Any) -> SystemDraft:
    """A key system that is thought through and not made."""
    facts.setdefault("code", f"DR{next(_number)}")
    facts.setdefault("name", f"Draft {facts['code']}")
    facts.setdefault("keyway", "W1")
    wanted = facts.pop("wanted", engine.Wanted("small-a2-7", needs))
    return systems.work_out(actor=actor, sites=list(sites), wanted=wanted, rng=random.Random(7), **facts)


def symbol(system: KeySystem, name: str) -> KeySymbol:
    return KeySymbol.objects.get(system=system, symbol=name)


def change_key(system: KeySystem, nth: int = 0) -> KeySymbol:
    return system.symbols.filter(kind=KeySymbol.Kind.CHANGE).order_by("symbol")[nth]


def make_core(
    *, actor: User, site: Site, system: KeySystem, symbols: list[KeySymbol] | None = None, pinned: bool = True
) -> Core:
    symbols = symbols or [change_key(system)]
    core = cores.register_core(actor=actor, site=site, system=system, symbols=symbols)
    return cores.pin_core(actor=actor, core=core, version=core.version) if pinned else core


def install(core: Core, housing: Housing) -> Core:
    """The core as if it had always been there, without a swap's history."""
    core.place, core.housing = Core.Place.HOUSING, housing
    core.save(update_fields=["place", "housing"])
    return core


def make_holder(site: Site, *, user: User | None = None, **facts: Any) -> Holder:
    facts.setdefault("name", f"Holder {next(_number)}")
    return Holder.objects.create(site=site, user=user, **facts)


def make_cabinet(site: Site) -> Cabinet:
    return Cabinet.objects.create(site=site, name=f"Cabinet {next(_number)}")


def make_copy(symbol: KeySymbol, cabinet: Cabinet) -> KeyCopy:
    return KeyCopy.objects.create(
        symbol=symbol, site=cabinet.site, state=KeyCopy.State.IN_CABINET, cabinet=cabinet
    )


def make_handover(site: Site, *, by: User, **facts: Any) -> Handover:
    """Keys issued to an invented holder of the site, who typed a name."""
    facts.setdefault("number", next(_number))
    facts.setdefault("way", Handover.Way.OUT)
    if "holder" not in facts:
        facts["holder"] = make_holder(site)
    facts.setdefault("signed_as", "Holder One")
    facts.setdefault("sign_way", Handover.SignWay.TYPED)
    return Handover.objects.create(site=site, by=by, **facts)


def make_line(copy: KeyCopy, holder: Holder, *, by: User, **facts: Any) -> Custody:
    """A line of the register without its act's other half: the copy itself is left where it is."""
    act = make_handover(copy.site, by=by, holder=holder)
    return Custody.objects.create(copy=copy, holder=holder, handed_out_by=by, out_act=act, **facts)


def make_job(site: Site, *, actor: User, **facts: Any) -> Job:
    """A job of a kind that nobody registered, as it stands after it was asked for."""
    facts.setdefault("label", "Invented work")
    job = Job(site=site, actor=actor, kind="invented", **facts)
    job.parameters = vault.seal(job, "parameters", "{}")
    job.save()
    return job


def make_job_file(job: Job, name: str = "list.txt", content: bytes = b"words") -> JobFile:
    file = JobFile(job=job, name=name, content_type="text/plain", size=len(content))
    file.content = vault.seal_bytes(file, "content", content)
    file.save()
    return file
