"""The process behind one size of ``bench_start``: a campus on an ordinary morning, and its first page.

Besides the campus there is, for each building: work late and not, keys overdue, cores for a time, a
contradiction, a request that is late; and over all of it an assessed exposure and a finished proof.
"""

import time
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import timedelta
from typing import Any

from tests.bench.campus_asked import place, written

PEOPLE = ("locksmith", "key-desk", "manager", "officer", "administrator", "auditor")
MANAGED = 3
BATCH = 2000


@dataclass(frozen=True)
class Told:
    seconds: float
    queries: int
    size: int


def serve(line: Any, doors: int) -> None:
    """What the process does: write the campus, then fetch the page for whoever is named."""
    with place(doors):
        import django

        django.setup()
        from django.db import connection

        begin(written(doors))
        line.send(connection.vendor)
        clients = {name: _client(name) for name in PEOPLE}
        while (name := line.recv()) is not None:
            line.send(_asked(clients[name], connection))
        connection.close()


def _client(name: str) -> Any:
    from django.test import Client

    from keyctl.accounts.models import User

    client = Client()
    client.force_login(User.objects.get(username=name))
    client.get("/")
    return client


def _asked(client: Any, connection: Any) -> Told:
    from django.test.utils import CaptureQueriesContext

    connection.queries_log.clear()  # after so much was written it is full
    with CaptureQueriesContext(connection) as captured:
        page = client.get("/")
    # At once: the next request empties the log that is counted.
    queries = len(captured)
    if page.status_code != 200 or not queries:
        raise ValueError((page.status_code, queries))
    # SQLite works in this process: its own time tells no more of what else the machine does.
    clock = time.process_time if connection.vendor == "sqlite" else time.perf_counter
    began = clock()
    client.get("/")
    return Told(clock() - began, queries, len(page.content))


def begin(maker: Any) -> None:
    from keyctl.lib.planner import look_anew

    people = dict(_people())
    for work in (_orders, _keys, _at_doors, _requests, _watched):
        work(maker, people)
    look_anew()


def _people() -> Iterator[tuple[str, Any]]:
    """Each of them at every site."""
    from keyctl.accounts.models import User
    from keyctl.places.models import Building, BuildingManager, Membership, Site

    for name in PEOPLE:
        user = User.objects.filter(username=name).first() or User.objects.create_user(
            name, display_name=name.title()
        )
        rows = (Membership(user=user, site=site, role=name) for site in Site.objects.all())
        Membership.objects.bulk_create(rows, ignore_conflicts=True)
        yield name, user
    manager = User.objects.get(username="manager")
    for building in Building.objects.order_by("code")[:MANAGED]:
        BuildingManager.objects.get_or_create(building=building, user=manager)


def _orders(_maker: Any, people: dict[str, Any]) -> None:
    """One in five is late, ten are the locksmith's own, the others nobody's."""
    from django.utils import timezone

    from keyctl.orders.models import WorkOrder

    pks = list(WorkOrder.objects.order_by("number").values_list("pk", flat=True))
    today = timezone.localdate()
    late, later = today - timedelta(days=3), today + timedelta(days=9)
    WorkOrder.objects.filter(pk__in=pks[:10]).update(assigned_to=people["locksmith"])
    for nth in range(0, len(pks), BATCH):
        part = pks[nth : nth + BATCH]
        WorkOrder.objects.filter(pk__in=part[::5]).update(due_on=late)
        WorkOrder.objects.filter(pk__in=part[1::5]).update(due_on=later)


def _keys(_maker: Any, _people: dict[str, Any]) -> None:
    """One key in ten that is out is overdue."""
    from django.utils import timezone

    from keyctl.keys.models import Custody

    pks = list(Custody.objects.order_by("pk").values_list("pk", flat=True))[::10]
    for nth in range(0, len(pks), BATCH):
        due = timezone.now() - timedelta(hours=nth + 1)
        Custody.objects.filter(pk__in=pks[nth : nth + BATCH]).update(due_at=due)


def _at_doors(maker: Any, _people: dict[str, Any]) -> None:
    """One core in a hundred for a time, one contradiction for each building."""
    from django.utils import timezone

    from keyctl.cores.models import Core
    from keyctl.field.models import ReconcileCase
    from keyctl.interim.models import Interim
    from keyctl.places.models import Building

    cores = list(Core.objects.order_by("tag").values_list("pk", "housing", "site"))[::100]
    until = timezone.localdate() + timedelta(days=5)
    Interim.objects.bulk_create(
        [
            Interim(core_id=core, housing_id=housing, site_id=site, until=until, why="Work", marked_by=maker)
            for core, housing, site in cores
        ],
        batch_size=BATCH,
        ignore_conflicts=True,
    )
    sites = Building.objects.order_by("code").values_list("site", flat=True)
    ReconcileCase.objects.bulk_create(
        ReconcileCase(number=nth, site_id=site)
        for nth, site in enumerate(sites, start=ReconcileCase.objects.count() + 1)
    )


def _requests(_maker: Any, people: dict[str, Any]) -> None:
    """Every request waits for its building's people, one in ten beyond its term."""
    from django.utils import timezone

    from keyctl.approvals.models import KeyRequest, Step

    now = timezone.now()
    Step.objects.bulk_create(
        [
            Step(
                request_id=pk,
                ordinal=1,
                who="building",
                label="The building’s people",
                why="They decide.",
                asked_by=people["locksmith"],
                since=now - timedelta(days=1),
                due_at=now + timedelta(days=1 if nth % 10 else -1),
            )
            for nth, pk in enumerate(KeyRequest.objects.order_by("pk").values_list("pk", flat=True))
        ],
        batch_size=BATCH,
        ignore_conflicts=True,
    )


def _watched(maker: Any, _people: dict[str, Any]) -> None:
    """Every core is assessed, one in ten comes out by one wrong cut; one in fifty has a finding."""
    from django.utils import timezone

    from keyctl.cores.models import Core
    from keyctl.exposure.models import CoreExposure
    from keyctl.proofs.models import Finding, Proof
    from keyctl.systems.models import KeySymbol

    now = timezone.now()
    numbers: dict[str, Any] = dict.fromkeys(
        ("keys", "unplanned", "needed", "wafers", "idle_wafers", "trials", "blanks", "near_turning"), 0
    )
    cores = list(Core.objects.order_by("tag").values_list("pk", "site", "pinned_at"))
    CoreExposure.objects.bulk_create(
        [
            CoreExposure(
                core_id=pk, pinned_at=at or now, accepts=nth % 97, near_withdrawing=not nth % 10, **numbers
            )
            for nth, (pk, _site, at) in enumerate(cores)
        ],
        batch_size=BATCH,
        ignore_conflicts=True,
    )
    proof = Proof.objects.create(asked_by=maker, asked_at=now, finished_at=now)
    key = KeySymbol.objects.filter(kind="change").first()
    facts: dict[str, Any] = {"proof": proof, "symbol": key, "cause": "unknown", "words": "Not known."}
    facts |= {"kind": "turns-unplanned", "is_foreign": True}
    Finding.objects.bulk_create(
        [Finding(core_id=pk, site_id=site, pinned_at=at or now, **facts) for pk, site, at in cores[::50]],
        batch_size=BATCH,
        ignore_conflicts=True,
    )
