"""Every route of the product, found in the URL configuration: who is let in, and nobody meets a trace."""

from collections.abc import Callable, Iterator
from contextlib import AbstractContextManager
from dataclasses import dataclass
from typing import Any

import pytest
from django.test import Client
from django.urls import URLPattern, URLResolver, get_resolver, reverse
from django.utils import timezone

from keyctl import engine
from keyctl.approvals.models import Grant, KeyRequest
from keyctl.approvals.services import approve_request, ask_for_key
from keyctl.charts.models import LockChart
from keyctl.charts.services import create_chart
from keyctl.cores.models import Core
from keyctl.formats.models import KeywayFit
from keyctl.inherited.models import BittingList
from keyctl.inherited.services import bring_list
from keyctl.jobs.models import Job, JobFile
from keyctl.keys.models import KeyCopy
from keyctl.orders.models import WorkOrder
from keyctl.orders.services import open_cut_order, open_pin_order, open_swap_order
from keyctl.places.models import BuildingManager, Housing
from keyctl.proofs.models import Acceptance, Finding, Proof
from keyctl.recovery.models import ControlBlank, ControlKeyCase, CoreReading
from keyctl.recovery.services import open_case, register_blanks
from keyctl.stock.models import PinBin
from keyctl.stock.services import stock_kit
from keyctl.systems.models import KeySystem, SystemDraft
from keyctl.versions.models import SystemVersion
from keyctl.versions.services import take_version
from tests import factories
from tests.cast import Cast

OPEN_TO_ALL = {"accounts:sign-in", "accounts:sign-out"}


def a_keyway_fit(cast: Cast) -> KeywayFit:
    return KeywayFit.objects.create(
        blank_keyway="THIN", core_keyway="WIDE", reason="Tried", made_by=cast.locksmith
    )


def a_finding(cast: Cast, core: Core) -> Finding:
    proof = Proof.objects.create(site=cast.north, asked_by=cast.officer)
    facts: dict[str, Any] = {"kind": "does-not-turn", "cause": "unknown", "words": "Not known."}
    facts |= {"site": cast.north, "pinned_at": core.pinned_at, "is_foreign": False}
    return Finding.objects.create(proof=proof, core=core, symbol=core.keyed_to.all()[0], **facts)


def an_acceptance(cast: Cast, core: Core) -> Acceptance:
    today = timezone.localdate()
    facts: dict[str, Any] = {"accepted_by": cast.officer, "accepted_on": today, "until": today}
    facts |= {"kind": "does-not-turn", "reason": "Known", "pinned_at": core.pinned_at}
    return Acceptance.objects.create(core=core, symbol=core.keyed_to.all()[0], **facts)


@dataclass(frozen=True)
class Scene:
    """One of everything at the north site."""

    cast: Cast
    system: KeySystem
    draft: SystemDraft
    core: Core
    housing: Housing
    pin_order: WorkOrder
    swap_order: WorkOrder
    copy: KeyCopy
    key_request: KeyRequest
    grant: Grant
    cut_order: WorkOrder
    bin: PinBin
    blank: ControlBlank
    case: ControlKeyCase
    reading: CoreReading
    job: Job
    keyway_fit: KeywayFit
    finding: Finding
    acceptance: Acceptance
    job_file: JobFile
    version: SystemVersion
    bitting_list: BittingList
    lock_chart: LockChart


@pytest.fixture
def scene(cast: Cast) -> Scene:
    system = factories.make_system(cast.north, actor=cast.administrator)
    housing = factories.make_housing(cast.north)
    core = factories.make_core(actor=cast.locksmith, site=cast.north, system=system)
    factories.install(core, housing)
    fresh = factories.make_core(actor=cast.locksmith, site=cast.north, system=system, pinned=False)
    BuildingManager.objects.create(building=housing.door.building, user=cast.manager)
    holder = factories.make_holder(cast.north, user=cast.requester)
    facts: dict[str, Any] = {"actor": cast.requester, "holder": holder, "doors": [housing.door]}
    facts["reason"] = "Work"
    asked, granted = ask_for_key(**facts), ask_for_key(**facts)
    change = factories.change_key(system)
    approve_request(
        actor=cast.manager, request=granted, version=granted.version, symbols=[change], note="For the work"
    )
    cabinet = factories.make_cabinet(cast.north)
    bins = stock_kit(
        actor=cast.locksmith, site=cast.north, format=engine.load_format(system.format_id), each=9
    )
    blank = register_blanks(actor=cast.locksmith, site=cast.north, keyway=system.keyway)
    lost: dict[str, Any] = {"site": cast.north, "system": system, "officer_told": True}
    case = open_case(actor=cast.locksmith, note="Missing since the morning", **lost)
    return Scene(
        cast=cast,
        system=system,
        draft=factories.make_draft(cast.north, actor=cast.locksmith),
        core=core,
        housing=housing,
        pin_order=open_pin_order(actor=cast.locksmith, site=cast.north, title="Pin", cores=[fresh]),
        swap_order=open_swap_order(actor=cast.locksmith, site=cast.north, title="Swap", housings=[housing]),
        copy=factories.make_copy(change, cabinet),
        key_request=asked,
        grant=Grant.objects.get(request=granted),
        cut_order=open_cut_order(
            actor=cast.locksmith, site=cast.north, title="Cut", counts={change: 1}, cabinet=cabinet
        ),
        bin=bins[0],
        blank=blank,
        case=case,
        reading=CoreReading.objects.create(
            case=case, core=core, ordinal=1, findings=b"sealed elsewhere", read_by=cast.locksmith
        ),
        keyway_fit=a_keyway_fit(cast),
        finding=a_finding(cast, core),
        acceptance=an_acceptance(cast, core),
        job=(job := factories.make_job(cast.north, actor=cast.locksmith)),
        job_file=factories.make_job_file(job),
        version=take_version(actor=cast.locksmith, system=system, why="Before the works"),
        lock_chart=create_chart(
            actor=cast.locksmith, site=cast.north, name="House", format_id="fixed-6", keyway="W"
        ),
        bitting_list=bring_list(
            actor=cast.locksmith, site=cast.north, name="list.csv", content=b"AB9,0000000", system=system
        ),
    )


SITE_PAGES = [
    "stock:site",
    "stock:reorder",
    "stock:add-kit",
    "stock:count",
    "stock:receive",
    "stock:marks",
]
BIN_PAGES = ["stock:bin", "stock:count-bin", "stock:move-bin", "stock:mark-bin"]
BUILDING_PAGES = ["places:building", "places:new-floor", "places:new-door", "places:new-manager"]
CORE_PAGES = ["bench:record-found", "bench:repin", "bench:repin-done", "exposure:core", "exposure:near"]
CASE_PAGES = [
    f"recovery:{name}"
    for name in (
        "detail",
        "choose-core",
        "close",
        "cancel",
        "read",
        "differences",
        "choose-key",
        "approve",
        "show",
        "cut",
    )
]
LIST_PAGES = [f"inherited:{name}" for name in ("detail", "columns", "check", "write", "leave")]
RECONSTRUCTION_PAGES = ["inherited:reconstruct", "inherited:found", "inherited:make"]
DRAFT_PAGES = [f"systems:{name}" for name in ("draft", "draft-change", "draft-discard", "draft-make")]
CHART_PAGES = [
    f"charts:{name}" for name in ("detail", "draw", "table", "mark", "accept", "rules", "solve", "make")
]
JOB_PAGES = ["jobs:detail", "jobs:cancel", "jobs:resume"]
BLANK_PAGES = [f"recovery:{name}" for name in ("blank", "receive", "scrap", "count")]


Pick = Callable[[Scene], Any]
Writes = Callable[[], AbstractContextManager[list[str]]]

# The object that a route's parameter names. A new route with a parameter wants a line here.
OBJECTS: dict[str, Pick] = {
    "cores:door": lambda scene: scene.housing.door.pk,
    "cores:detail": lambda scene: scene.core.pk,
    "cores:pinning": lambda scene: scene.core.pk,
    "cores:move": lambda scene: scene.core.pk,
    "cores:bulk": lambda scene: scene.system.pk,
    "cores:bulk-pin": lambda scene: scene.system.pk,
    "versions:list": lambda scene: scene.system.pk,
    "versions:take": lambda scene: scene.system.pk,
    "versions:compare": lambda scene: scene.version.pk,
    "cores:key-chart": lambda scene: factories.symbol(scene.system, "A").pk,
    "cores:building-chart": lambda scene: scene.housing.door.building.pk,
    "cores:door-chart": lambda scene: scene.housing.door.pk,
    "cores:symbol": lambda scene: factories.change_key(scene.system).pk,
    "systems:detail": lambda scene: scene.system.pk,
    "systems:children": lambda scene: factories.symbol(scene.system, "A").pk,
    "orders:detail": lambda scene: scene.swap_order.pk,
    "orders:cancel": lambda scene: scene.swap_order.pk,
    "orders:pin-line": lambda scene: scene.pin_order.lines.get().pk,
    "orders:swap": lambda scene: scene.swap_order.lines.get().pk,
    "keys:copy": lambda scene: scene.copy.pk,
    "keys:hand-out": lambda scene: scene.copy.pk,
    "keys:take-back": lambda scene: scene.copy.pk,
    "keys:lost": lambda scene: scene.copy.pk,
    "keys:destroy": lambda scene: scene.copy.pk,
    "keys:holder": lambda scene: scene.key_request.holder.pk,
    "keys:cut": lambda scene: scene.cast.north.pk,
    "keys:new-holder": lambda scene: scene.cast.north.pk,
    "approvals:ask-building": lambda scene: scene.housing.door.building.pk,
    "approvals:detail": lambda scene: scene.key_request.pk,
    "approvals:approve": lambda scene: scene.key_request.pk,
    "approvals:refuse": lambda scene: scene.key_request.pk,
    "approvals:withdraw": lambda scene: scene.key_request.pk,
    "approvals:hand-out": lambda scene: scene.grant.pk,
    "prints:system": lambda scene: scene.system.pk,
    "prints:pinning-sheet": lambda scene: scene.pin_order.pk,
    "keys:drawing": lambda scene: factories.change_key(scene.system).pk,
    "orders:cut-line": lambda scene: scene.cut_order.lines.get().pk,
    "orders:pins-needed": lambda scene: scene.pin_order.pk,
    "prints:cutting-list": lambda scene: scene.cut_order.pk,
    "formats:detail": lambda scene: scene.system.format_id,
    "formats:retire": lambda scene: scene.system.format_id,
    "proofs:detail": lambda scene: scene.finding.proof_id,
    "proofs:accept": lambda scene: scene.finding.pk,
    "proofs:end-acceptance": lambda scene: scene.acceptance.pk,
    "formats:remove-keyway": lambda scene: scene.keyway_fit.pk,
    **dict.fromkeys(SITE_PAGES, lambda scene: scene.cast.north.pk),
    **dict.fromkeys(BIN_PAGES, lambda scene: scene.bin.pk),
    **dict.fromkeys(CASE_PAGES, lambda scene: scene.case.pk),
    **dict.fromkeys(BLANK_PAGES, lambda scene: scene.blank.pk),
    "recovery:set-aside": lambda scene: scene.reading.pk,
    **dict.fromkeys(CORE_PAGES, lambda scene: scene.core.pk),
    "exposure:site": lambda scene: scene.cast.north.pk,
    "exposure:cuts": lambda scene: scene.cast.north.pk,
    "exposure:assess": lambda scene: scene.cast.north.pk,
    "exposure:system": lambda scene: scene.system.pk,
    "places:new-building": lambda scene: scene.cast.north.pk,
    **dict.fromkeys(BUILDING_PAGES, lambda scene: scene.housing.door.building.pk),
    **dict.fromkeys(JOB_PAGES, lambda scene: scene.job.pk),
    "jobs:file": lambda scene: scene.job_file.pk,
    **dict.fromkeys(LIST_PAGES, lambda scene: scene.bitting_list.pk),
    **dict.fromkeys(CHART_PAGES, lambda scene: scene.lock_chart.pk),
    **dict.fromkeys(RECONSTRUCTION_PAGES, lambda scene: scene.cast.north.pk),
    **dict.fromkeys(DRAFT_PAGES, lambda scene: scene.draft.pk),
    "systems:capacity": lambda scene: scene.system.pk,
    "systems:extend": lambda scene: scene.system.symbols.get(level=0).pk,
    "find-by-tag": lambda scene: scene.core.tag,
}
# A core format belongs to no site: everybody on the staff of any site may read it.
SHARED = {"formats:detail", "formats:retire", "formats:remove-keyway"}


def routes(patterns: list[URLPattern | URLResolver], space: str = "") -> Iterator[tuple[str, URLPattern]]:
    for pattern in patterns:
        if isinstance(pattern, URLResolver):
            inner = f"{pattern.namespace}:" if pattern.namespace else ""
            yield from routes(pattern.url_patterns, space + inner)
        else:
            yield f"{space}{pattern.name}", pattern


PAGES = {name: route for name, route in routes(get_resolver().url_patterns) if not name.startswith("api:")}
WITH_OBJECT = sorted(OBJECTS)


def address(name: str, scene: Scene) -> str:
    parameters = list(PAGES[name].pattern.converters)
    return reverse(name, kwargs={parameters[0]: OBJECTS[name](scene)} if parameters else None)


def test_every_route_with_a_parameter_has_an_object() -> None:
    assert {name for name, route in PAGES.items() if route.pattern.converters} == set(OBJECTS)


@pytest.mark.parametrize("name", sorted(set(PAGES) - OPEN_TO_ALL))
@pytest.mark.parametrize("method", ["get", "post"])
def test_nobody_gets_in_without_signing_in(name: str, method: str, scene: Scene, client: Client) -> None:
    answer = getattr(client, method)(address(name, scene))
    assert answer.status_code == 302
    assert answer.headers["Location"].startswith(reverse("accounts:sign-in"))


@pytest.mark.parametrize("name", sorted(set(WITH_OBJECT) - SHARED))
@pytest.mark.parametrize("method", ["get", "post"])
def test_a_stranger_finds_nothing_there(name: str, method: str, scene: Scene, client: Client) -> None:
    client.force_login(scene.cast.stranger)
    assert getattr(client, method)(address(name, scene)).status_code in {404, 405}


@pytest.mark.parametrize("name", WITH_OBJECT)
def test_a_requester_sees_only_their_own_requests_and_keys(name: str, scene: Scene, client: Client) -> None:
    client.force_login(scene.cast.requester)
    is_own = name.startswith("approvals:") or name == "keys:holder"
    answer = client.get(address(name, scene))
    assert answer.status_code in ({200, 302, 403, 405} if is_own else {403, 404, 405})


@pytest.mark.parametrize("name", sorted(PAGES))
@pytest.mark.parametrize("method", ["get", "post"])
def test_nobody_meets_a_trace(name: str, method: str, scene: Scene, client: Client) -> None:
    for person in scene.cast.everybody.values():
        client.force_login(person)
        assert getattr(client, method)(address(name, scene)).status_code < 500


@pytest.mark.parametrize("name", sorted(set(PAGES) - OPEN_TO_ALL))
def test_looking_changes_nothing(name: str, scene: Scene, client: Client, writes: Writes) -> None:
    client.force_login(scene.cast.locksmith)
    with writes() as written:
        client.get(address(name, scene))
    assert written == []
