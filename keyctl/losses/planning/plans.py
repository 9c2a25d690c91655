"""The plans of a case: made, proven, counted, and kept side by side."""

import json
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from hashlib import sha256
from typing import Any
from uuid import UUID

from django.db import transaction
from django.db.models import Max

from keyctl.accounts.models import User
from keyctl.cores.models import Core
from keyctl.cores.turning import KeyFamily
from keyctl.keys.models import Holder
from keyctl.losses.lost import LostKeys
from keyctl.losses.models import LossCase, RekeyPlan
from keyctl.losses.planning.costing import (
    MINUTES_AN_HOUR,
    SHOWN_HOLDERS,
    Copies,
    Pins,
    copies_of_way,
    cost_of,
    pins_of_way,
)
from keyctl.losses.planning.ground import Ground, Node, Watch
from keyctl.losses.planning.new_part import new_part
from keyctl.losses.planning.replacing import replace_lost
from keyctl.losses.planning.scope import Scope, scopes_of
from keyctl.losses.planning.taking_out import take_out
from keyctl.losses.planning.ways import Way
from keyctl.losses.planning.wording import changes_of, label_of, stays_of
from keyctl.systems.models import KeySystem
from keyctl.vault import services as vault

# The work of a case in the queue: making its plans, and doing the chosen one.
PLAN, CARRY = "losses.plan", "losses.carry-out"
SHOWN_KEYS = 50
PINNED_AT_ONCE = 500
WAYS: tuple[Callable[[Ground, Scope], Way], ...] = (replace_lost, take_out, new_part)


@dataclass(frozen=True)
class Plan:
    """One way with its figures; ``secret`` holds the bittings and all that makes orders of it."""

    kind: str
    label: str
    figures: dict[str, Any]
    secret: dict[str, Any] | None = field(repr=False)


def plans_for(case: LossCase, watch: Callable[[int, int], None] = lambda *_: None) -> list[Plan]:
    """Every way for every scope; what cannot be carried out with its reason. ``watch`` is told (done, of)."""
    lost = LostKeys.of(case)
    keys = lost.out or frozenset(lost.symbols)
    tally = [0, 1]
    ground = Ground(keys, _told(watch, tally))
    scopes = scopes_of(case, ground)
    ways = [work for work in WAYS if lost.has_master or work is not new_part]
    tally[1] = len(scopes) * len(ways) or 1
    found = []
    for scope in scopes:
        for work in ways:
            watch(*tally)
            found.append(_plan(case, ground, lost, work(ground, scope)))
            tally[0] += 1
    return found


def _told(watch: Callable[[int, int], None], tally: list[int]) -> Watch:
    return lambda: watch(*tally)


@transaction.atomic
def keep_plans(case: LossCase, plans: list[Plan], actor: User) -> list[RekeyPlan]:
    """In the place of those made before; one that was chosen stays, and one that orders came of."""
    made = RekeyPlan.objects.filter(case=case)
    made.filter(chosen_at__isnull=True, case_orders__isnull=True).delete()
    last = made.aggregate(last=Max("ordinal"))["last"] or 0
    rows = []
    for nth, plan in enumerate(plans, last + 1):
        row = RekeyPlan(case=case, ordinal=nth, kind=plan.kind, label=plan.label, figures=plan.figures)
        row.look, row.made_by = case.look, actor
        if plan.secret is not None:
            row.secret = vault.seal(row, "secret", json.dumps(plan.secret, separators=(",", ":")))
        rows.append(row)
    return RekeyPlan.objects.bulk_create(rows)


def secret_of(plan: RekeyPlan) -> dict[str, Any]:
    """What the plan makes; who opens it has told history."""
    found: dict[str, Any] = json.loads(vault.unseal(plan, "secret"))
    return found


def mark_of(cores: Mapping[UUID, Any] | list[UUID], systems: set[UUID]) -> str:
    """Tells whether cores were pinned or keys made since a plan was worked out."""
    digest, listed = sha256(), sorted(cores)
    for start in range(0, len(listed), PINNED_AT_ONCE):
        rows = Core.objects.filter(pk__in=listed[start : start + PINNED_AT_ONCE]).order_by("pk")
        for pk, pinned_at in rows.values_list("pk", "pinned_at"):
            digest.update(f"{pk} {pinned_at}".encode())
    for system in KeySystem.objects.filter(pk__in=systems).order_by("pk"):
        digest.update(f"{system.pk} {KeyFamily.of(system).symbols().count()}".encode())
    return digest.hexdigest()


def _plan(case: LossCase, ground: Ground, lost: LostKeys, way: Way) -> Plan:
    label = label_of(way, is_change=not lost.has_master)
    if not way.is_possible:
        figures = {"scope": way.scope.name, "possible": False, "why_not": list(way.why_not)}
        return Plan(way.kind, label, figures, None)
    pins, copies = pins_of_way(ground, way), copies_of_way(case, way)
    figures = _figures(ground, way, pins, copies)
    return Plan(way.kind, label, figures, _secret(way, copies))


def _figures(ground: Ground, way: Way, pins: Pins, copies: Mapping[UUID, Copies]) -> dict[str, Any]:
    cost = cost_of(way, pins, copies)
    names = _replaced_names(ground, way)
    cut = {key.ref: copies[key.replaces].by_site.total() for key in way.coming if key.replaces in copies}
    called_back = sum(found.called_back for found in copies.values())
    places = [way.scope.places[core] for core in way.keyed]
    holders = _holders(copies)
    left = way.open_places
    return {
        "scope": way.scope.name,
        "possible": True,
        "cores": len(places),
        "doors": len({place.door for place in places if place.door}),
        "buildings": len({place.building for place in places if place.building}),
        "sites": sorted({str(place.site) for place in places}),
        "due": sum(place.is_due for place in places),
        "left": len(left),
        "left_due": sum(place.is_due for place in left),
        "keys": len(way.coming),
        "shown_keys": [
            {"symbol": key.symbol, "instead": names[key.ref], "copies": cut.get(key.ref, 0)}
            for key in way.coming[:SHOWN_KEYS]
        ],
        "copies": sum(cut.values()),
        "called_back": called_back,
        "holders": len(holders),
        "shown_holders": _named(holders),
        "pins": pins.total,
        "pins_by_role": dict(pins.by_role),
        "pins_short": sum(bool(need.short) for need in pins.needs),
        "pins_uncounted": sum(need.held is None for need in pins.needs),
        "visits": cost.visits,
        "at_once": cost.at_once,
        "minutes": cost.minutes,
        "hours": round(cost.minutes / MINUTES_AN_HOUR, 1),
        "money": cost.money,
        "currency": cost.currency,
        "changes": changes_of(way, names, sum(cut.values()), called_back),
        "stays": stays_of(way, is_retired=ground.lost <= way.retired),
    }


def _replaced_names(ground: Ground, way: Way) -> dict[str, str]:
    """By key to come, the symbol of the one it replaces."""
    nodes: dict[UUID, Node] = {}
    for system in {place.system for place in way.scope.places.values()}:
        nodes |= ground.tree(system).nodes
    return {key.ref: nodes[key.replaces].symbol for key in way.coming}


def _holders(copies: Mapping[UUID, Copies]) -> dict[UUID, int]:
    found: dict[UUID, int] = {}
    for each in copies.values():
        for holder, count in each.holders.items():
            found[holder] = found.get(holder, 0) + count
    return found


def _named(holders: Mapping[UUID, int]) -> list[dict[str, Any]]:
    rows = Holder.objects.filter(pk__in=list(holders)[:SHOWN_HOLDERS]).order_by("name")
    return [{"pk": str(row.pk), "name": row.name, "copies": holders[row.pk]} for row in rows]


def _secret(way: Way, copies: Mapping[UUID, Copies]) -> dict[str, Any]:
    systems = {place.system for place in way.scope.places.values()}
    return {
        "mark": mark_of(way.keyed, systems),
        "systems": [str(system) for system in systems],
        "coming": [
            {
                "ref": key.ref,
                "system": str(key.system) if key.system else None,
                "symbol": key.symbol,
                "kind": key.kind,
                "parent": str(key.parent) if key.parent else None,
                "level": key.level,
                "ordinal": key.ordinal,
                "replaces": str(key.replaces),
                "bitting": key.bitting,
                "room": key.room,
                "copies": {
                    str(site): count for site, count in copies.get(key.replaces, Copies()).by_site.items()
                },
            }
            for key in way.coming
        ],
        "keyed": {str(core): [str(ref) for ref in refs] for core, refs in way.keyed.items()},
        "rows": [
            [str(core), str(place.site), str(place.building) if place.building else None]
            for core, place in way.scope.places.items()
            if core in way.keyed
        ],
        "moved": {str(key): str(ref) for key, ref in way.moved.items()},
        "retired": [str(key) for key in way.retired],
        "new_system": way.new_system,
    }
