"""The pages and the lists of the API, asked of the product itself: how long, how many statements, which
is slowest.

Somebody who has all twenty sites asks, and somebody who has one of them.
"""

import hashlib
import json
import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field, replace
from typing import Any
from uuid import UUID

from django.db import connection
from django.test import Client

from keyctl.accounts.models import User
from keyctl.places.models import Site
from tests.api.client import Api, make_api
from tests.bench.report import Report
from tests.paper.filling import run
from tests.paper.telling import tell

# The door that is asked about, in a building of the first site.
DOOR = 130
LONGEST_S = 30
SLOW_S = 2.0
TOLD_FROM_MS = 100.0
LISTS = (
    "sites",
    "buildings",
    "doors",
    "housings",
    "cores",
    "keys",
    "key-copies",
    "holders",
    "work-orders",
    "requests",
    "events",
)
WRITING = ("INSERT", "UPDATE", "DELETE")


def pk(kind: str, number: int) -> UUID:
    """As ``rows.key`` has the database make it."""
    return UUID(hashlib.md5(f"{kind}{number}".encode()).hexdigest())  # noqa: S324 (an identifier)


def paths() -> dict[str, str]:
    building, site = DOOR // 250, pk("site", 0)
    return {
        "first page": "/",
        "doors": "/estate/",
        "doors, page 300": "/estate/?page=300",
        "doors by words": "/estate/?q=room+007",
        "door": f"/estate/doors/{pk('door', DOOR)}/",
        "cores": "/estate/cores/",
        "core": f"/estate/cores/{pk('core', DOOR)}/",
        "change key": f"/systems/keys/{pk('change', DOOR)}/",
        "top key": f"/systems/keys/{pk('top', building)}/",
        "key systems": "/systems/",
        "key system": f"/systems/{pk('system', building)}/",
        "key desk": "/keys/",
        "register": "/keys/register/",
        "copy": f"/keys/copies/{pk('copy', DOOR)}/",
        "holder": f"/keys/holders/{pk('holder', DOOR // 10)}/",
        "cabinet": f"/keys/cabinets/{pk('cabinet', building)}/",
        "orders": "/orders/",
        "order": f"/orders/{pk('order', DOOR // 10)}/",
        "requests": "/requests/",
        "map of a site": f"/maps/sites/{site}/",
        "map of a building": f"/maps/buildings/{pk('building', building)}/",
        "places": "/places/",
        "exposure": "/exposure/",
    }


@dataclass
class Watched:
    """The statements of one request."""

    statements: list[tuple[float, str, Any]] = field(default_factory=list)

    def __call__(self, execute: Any, sql: str, params: Any, many: bool, context: Any) -> Any:
        began = time.perf_counter()
        try:
            return execute(sql, params, many, context)
        finally:
            self.statements.append((time.perf_counter() - began, sql, params))

    @property
    def sql_s(self) -> float:
        return sum(seconds for seconds, _, _ in self.statements)

    @property
    def writes(self) -> bool:
        return any(sql.lstrip().startswith(WRITING) or "FOR UPDATE" in sql for _, sql, _ in self.statements)

    @property
    def slowest(self) -> tuple[float, str, Any]:
        return max(self.statements, key=lambda each: each[0])


@dataclass(frozen=True)
class Asked:
    name: str
    status: int
    seconds: float
    watched: Watched
    writes: bool


class Readers:
    """Who asks, made once."""

    def __init__(self, maker: User) -> None:
        self.clients = {
            "all sites": _signed_in(maker),
            "one site": _signed_in(User.objects.get(username="smith")),
        }
        sites = list(Site.objects.order_by("code"))
        reached = {"all sites": sites, "one site": sites[:1]}
        self.apis = {who: _patient(make_api(maker, *theirs)) for who, theirs in reached.items()}

    def ask_all(self) -> Iterator[Asked]:
        for who, client in self.clients.items():
            for name, path in paths().items():
                if who == "all sites" or name != "places":
                    yield _asked(f"{name}, {who}", lambda c=client, p=path: c.get(p))
        for who, api in self.apis.items():
            for name in LISTS:
                yield _asked(f"API {name}, {who}", lambda a=api, n=name: a.get(f"{n}/"))


def _signed_in(user: User) -> Client:
    client = Client(raise_request_exception=False)
    client.force_login(user)
    return client


def _patient(api: Api) -> Api:
    return replace(api, client=Client(raise_request_exception=False))


def _asked(name: str, ask: Any) -> Asked:
    """Three times, unless it is slow; the quickest counts, and its statements."""
    best: Asked | None = None
    writes = False
    for _ in range(3):
        watched, began = Watched(), time.perf_counter()
        with connection.execute_wrapper(watched):
            answer = ask()
        seconds, writes = time.perf_counter() - began, writes or watched.writes
        asked = Asked(name, answer.status_code, seconds, watched, writes)
        best = asked if best is None or asked.seconds < best.seconds else best
        if asked.seconds > SLOW_S:
            break
    assert best is not None
    return replace(best, writes=writes)


@contextmanager
def patience() -> Iterator[None]:
    run(f"SET statement_timeout = '{LONGEST_S}s'")
    yield
    run("SET statement_timeout = 0")


def asked_all(maker: User) -> dict[str, Asked]:
    with patience():
        return {asked.name: asked for asked in Readers(maker).ask_all()}


def tell_pages(report: Report, by_doors: dict[int, dict[str, Asked]]) -> None:
    """The largest size beside the smallest; those between stand in the remark."""
    smallest, largest = min(by_doors), max(by_doors)
    for name, asked in by_doors[largest].items():
        between = ", ".join(f"{by_doors[d][name].seconds * 1e3:,.0f} ms" for d in sorted(by_doors)[1:-1])
        words = f"{name}: {largest:,} doors, {smallest:,} doors"
        report.ratio(
            words, asked.seconds, by_doors[smallest][name].seconds, 0, f"between: {between}; {_remark(asked)}"
        )
    found = by_doors[largest].values()
    reading = sum(not asked.writes for asked in found) / len(found)
    tell(report, "share of these requests that only read", reading * 100, "%", f"of {len(found)}")


def note_plans(report: Report, doors: int, found: dict[str, Asked]) -> None:
    for asked in found.values():
        if asked.watched.slowest[0] * 1e3 > TOLD_FROM_MS:
            report.note(f"{doors:,} doors: {asked.name}: {_plan(*asked.watched.slowest[1:])}")


def _remark(asked: Asked) -> str:
    failed = (
        "" if asked.status == 200 else f"; answered {asked.status} (a statement is ended after {LONGEST_S} s)"
    )
    watched = asked.watched
    slowest = watched.slowest[0] * 1e3
    asked_ms = f"{len(watched.statements)} statements of {watched.sql_s * 1e3:,.0f} ms"
    return f"{asked_ms}, the slowest {slowest:,.0f}{failed}"


def _plan(sql: str, params: Any) -> str:
    """What the database does for it, from above, and the statement's tables."""
    if not sql.startswith("SELECT"):
        return sql[:80]
    plan = run(f"EXPLAIN (FORMAT JSON) {sql}", params)[0][0]
    made = json.loads(plan) if isinstance(plan, str) else plan
    return f"{', '.join(_nodes(made[0]['Plan']))} | {sql[:120]}"


def _nodes(node: dict[str, Any]) -> Iterator[str]:
    """Where rows come from, and what is sorted."""
    on = node.get("Relation Name") or node.get("Index Name") or ""
    if on or "Sort" in node["Node Type"]:
        yield f"{node['Node Type']} {on}".strip() + f" of {node['Plan Rows']:,}"
    for part in node.get("Plans", ()):
        yield from _nodes(part)
