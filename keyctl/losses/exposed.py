"""What the lost keys of a case open, core by core, from what the pins gave.

Turns come from the pins of every core that a key enters, at every site and by the blank table; so does
this. The proof at the end reads the sealed pins again.
"""

from collections import Counter
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from typing import Any, NamedTuple
from uuid import UUID

from keyctl.cores.models import Core, Turn
from keyctl.losses.lost import LostKeys, suffices
from keyctl.losses.models import CaseDoor, LossCase
from keyctl.losses.routes import Routes, by_strength
from keyctl.losses.shares import Copies, Shares, Verdict, copies_for_cores, copies_of

Why = CaseDoor.Why

FLOOR = "core__housing__door__floor"


class Where(NamedTuple):
    """Of a core, what places and counts it; the order of the fields is the order of the query's."""

    core: UUID
    system: UUID | None
    site: UUID
    place: str
    site_code: str
    tag: str
    housing: UUID | None
    label: str | None
    kind: str | None
    door: UUID | None
    number: str | None
    door_class: str | None
    is_egress: bool | None
    is_fire_rated: bool | None
    level: int | None
    building: UUID | None
    building_code: str | None

    @property
    def order(self) -> tuple[Any, ...]:
        """Doors by site, building, floor and number; cores in no door after all of them."""
        if self.housing is None:
            return (1, self.site_code, "", 0, "", "", self.tag)
        return (0, self.site_code, self.building_code, self.level, self.number, self.label, self.tag)


PATHS = (
    "core",
    "core__system",
    "core__site",
    "core__place",
    "core__site__code",
    "core__tag",
    "core__housing",
    "core__housing__label",
    "core__housing__kind",
    "core__housing__door",
    "core__housing__door__number",
    "core__housing__door__door_class",
    "core__housing__door__is_egress",
    "core__housing__door__is_fire_rated",
    f"{FLOOR}__level",
    f"{FLOOR}__building",
    f"{FLOOR}__building__code",
)


@dataclass
class Touched:
    """A core, and what each lost key does to it: (operates, withdraws)."""

    where: Where
    acts: dict[UUID, tuple[bool, bool]] = field(default_factory=dict)


@dataclass(frozen=True)
class Exposed:
    """Everything that the lost keys open, in the order of the pages, and what a page tells at once."""

    rows: list[CaseDoor]
    notes: Mapping[str, int]


def find_exposed(case: LossCase, lost: LostKeys) -> Exposed:
    touched = sorted(_touched(lost), key=lambda each: each.where.order)
    verdicts = _verdicts(touched, lost)
    routes = Routes(lost)
    rows = [_row(case, each, verdicts[each.where.core], routes, lost) for each in touched]
    return Exposed(rows, _notes(each.where for each in touched))


def _touched(lost: LostKeys) -> Iterable[Touched]:
    rows = Turn.objects.filter(symbol__in=lost.symbols).exclude(core__place=Core.Place.GONE)
    found: dict[UUID, Touched] = {}
    for key, operates, withdraws, *facts in rows.values_list("symbol", "operates", "withdraws", *PATHS):
        where = Where(*facts)
        found.setdefault(where.core, Touched(where)).acts[key] = (operates, withdraws)
    return found.values()


def _verdicts(touched: Iterable[Touched], lost: LostKeys) -> dict[UUID, Verdict]:
    """What is due at each core, and why."""
    shares, of_key = Shares(), copies_of(lost.symbols)
    plain = [each for each in touched if not _sufficing(each, lost)]
    of_core = copies_for_cores([each.where.core for each in plain if each.where.door])
    verdicts = {}
    for each in touched:
        copies = of_core.get(each.where.core, Copies())
        verdicts[each.where.core] = _verdict(each, lost, shares, of_key, copies)
    return verdicts


def _verdict(
    each: Touched, lost: LostKeys, shares: Shares, of_key: Mapping[UUID, Copies], of_core: Copies
) -> Verdict:
    where = each.where
    if where.door is None or where.door_class is None:
        return Verdict(False, Why.NO_DOOR, Copies())
    if enough := _sufficing(each, lost):
        return Verdict(True, Why.MASTER, sum((of_key.get(key, Copies()) for key in enough), Copies()))
    if not each.acts.keys() & lost.out:
        return Verdict(False, Why.FOUND, of_core)
    return shares.verdict(where.site, where.door_class, of_core)


def _sufficing(each: Touched, lost: LostKeys) -> list[UUID]:
    """The keys still out of which one copy is enough: masters, control keys, and what takes the core out."""
    return [
        key
        for key, (_, withdraws) in each.acts.items()
        if key in lost.out and (withdraws or suffices(lost.symbols[key]))
    ]


def _row(case: LossCase, each: Touched, verdict: Verdict, routes: Routes, lost: LostKeys) -> CaseDoor:
    where = each.where
    # A key that is still out stands for the core before one that was found.
    telling = {key: act for key, act in each.acts.items() if key in lost.out} or each.acts
    route, key = by_strength(
        [
            (routes.route(where.core, where.system, key, operates=operates), key)
            for key, (operates, _) in telling.items()
        ]
    )
    return CaseDoor(
        case=case,
        core_id=where.core,
        housing_id=where.housing,
        door_id=where.door,
        door_class=where.door_class or "",
        building_id=where.building,
        site_id=where.site,
        route=route,
        operates=any(operates for operates, _ in each.acts.values()),
        withdraws=any(withdraws for _, withdraws in each.acts.values()),
        symbol_id=key,
        keys=len(each.acts),
        lost=verdict.copies.lost,
        cut=verdict.copies.cut,
        share_lost=verdict.copies.share,
        share_due=verdict.share_due,
        is_due=verdict.is_due,
        why=verdict.why,
    )


def _notes(places: Iterable[Where]) -> dict[str, int]:
    """What the cautions and the head of the page count: doors by nature, loose cores by place."""
    notes: Counter[str] = Counter()
    doors: dict[str, set[UUID]] = {"egress": set(), "fire": set(), "doors": set()}
    for where in places:
        notes["cores"] += 1
        if where.door is None:
            notes[where.place] += 1
            continue
        doors["doors"].add(where.door)
        notes["padlocks"] += where.kind == "padlock"
        doors["egress"] |= {where.door} if where.is_egress else set()
        doors["fire"] |= {where.door} if where.is_fire_rated else set()
    return dict(notes) | {name: len(found) for name, found in doors.items()}
