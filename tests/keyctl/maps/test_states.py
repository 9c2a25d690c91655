"""The state of every door, against a model of its own that looks at each door with all that hangs on it."""

from collections import Counter
from datetime import timedelta
from itertools import count
from random import Random
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from keyctl.cores.models import Core, Turn
from keyctl.exposure.models import CoreExposure
from keyctl.interim.models import Interim
from keyctl.keys.models import Cabinet, Custody, KeyCopy
from keyctl.losses.models import CaseDoor, LossCase
from keyctl.maps.questions import CORES, EXPOSURE, KEYS, LOSSES, QUESTIONS, WORK, Question
from keyctl.maps.selectors.states import counts_by_floor, counts_of_site, doors_with_state
from keyctl.orders.models import OrderLine, WorkOrder
from keyctl.places.models import Door, Floor, Housing
from keyctl.proofs.models import Acceptance, Finding, Proof
from keyctl.systems.models import KeySymbol
from tests import factories
from tests.cast import Cast
from tests.keyctl.keys.keyroom import bare_key, bare_system

DAY = timedelta(days=1)
FIGURES: tuple[str, ...] = ("keys", "unplanned", "needed", "wafers", "idle_wafers", "trials", "blanks")
FIGURES += ("near_turning", "near_withdrawing")
BOUNDS = (("1", 4), ("2", 16), ("3", 64), ("4", 256), ("5", 10**9))
_number = count(1)


class Wild:
    """Doors with whatever can be on them, drawn from a seed; no pins are looked at."""

    def __init__(self, cast: Cast, seed: int, doors: int = 60) -> None:
        self.cast, self.rng, self.now = cast, Random(seed), timezone.now()
        self.system = bare_system(cast.north, actor=cast.administrator)
        self.key: KeySymbol = bare_key(self.system, "AA1")
        about = {"asked_by": cast.officer}
        Proof.objects.create(**about, asked_at=self.now - 9 * DAY, finished_at=self.now - 9 * DAY)
        self.proof = Proof.objects.create(
            **about, site=cast.north, asked_at=self.now - 5 * DAY, finished_at=self.now - 5 * DAY
        )
        # Of one system alone, and not finished: neither says anything of the site.
        Proof.objects.create(**about, system=self.system, asked_at=self.now, finished_at=self.now)
        Proof.objects.create(**about, site=cast.north, asked_at=self.now)
        self.key_ring = KeyRing(self, Random(-seed))
        self.case = self._case(LossCase.State.OPEN)
        self.closed = self._case(LossCase.State.CLOSED)
        floors = [factories.make_floor(cast.north) for _ in range(3)]
        for _ in range(doors):
            self._door(factories.make_door(floor=self.rng.choice(floors)))
        factories.make_housing(cast.south)

    def _may(self, share: float) -> bool:
        return self.rng.random() < share

    def _case(self, state: str) -> LossCase:
        ended = {"closed_by": self.cast.officer, "closed_at": self.now, "outcome": "Done"}
        return LossCase.objects.create(
            number=next(_number),
            site=self.cast.north,
            opened_by=self.cast.desk,
            look=2,
            looked_at=self.now,
            state=state,
            **(ended if state == LossCase.State.CLOSED else {}),
        )

    def _door(self, door: Door) -> None:
        for _ in range(self.rng.choice([0, 1, 1, 1, 2])):
            housing = factories.make_housing(door=door, label=f"No {next(_number)}")
            if self._may(0.85):
                self._core(housing)
            if self._may(0.3):
                self._order(housing=housing)
        if self._may(0.1):
            self._order(door=door)

    def _core(self, housing: Housing) -> None:
        pinned = {"pinning": b"x", "pinned_at": self.now - self.rng.choice([1, 7, 20]) * DAY}
        disputed = {"disputed_at": self.now, "disputed_over": "case 1"}
        core = Core.objects.create(
            site=self.cast.north,
            system=self.system,
            format_id="small-a2-7",
            construction="small-format",
            place="housing",
            housing=housing,
            **(pinned | {"pinned_by": self.cast.locksmith} if self._may(0.85) else {}),
            **(disputed if self._may(0.08) else {}),
        )
        if self._may(0.15):
            self._interim(core, housing)
        if core.pinned_at:
            self.key_ring.turn(core)
            self._figures(core)
            self._findings(core)
        if self._may(0.3):
            self._lost(core, housing)

    def _interim(self, core: Core, housing: Housing) -> None:
        facts: dict[str, Any] = {"core": core, "housing": housing, "site": self.cast.north, "why": "Works"}
        ended = {"ended_at": self.now, "outcome": "It stays"} if self._may(0.4) else {}
        Interim.objects.create(**facts, until=self.now.date(), marked_by=self.cast.locksmith, **ended)

    def _figures(self, core: Core) -> None:
        if self._may(0.8):
            when: Any = core.pinned_at if self._may(0.8) else self.now - 99 * DAY
            figures = dict.fromkeys(FIGURES, 0)
            accepts = self.rng.choice([1, 4, 5, 16, 17, 64, 65, 256, 257, 9999])
            CoreExposure.objects.create(core=core, pinned_at=when, accepts=accepts, **figures)

    def _findings(self, core: Core) -> None:
        if self._may(0.3):
            facts: dict[str, Any] = {"core": core, "symbol": self.key, "kind": "does-not-turn"}
            then: Any = core.pinned_at if self._may(0.7) else self.now - 99 * DAY
            told = {"cause": "unknown", "words": "?", "is_foreign": False, "site": self.cast.north}
            Finding.objects.create(proof=self.proof, **facts, **told, pinned_at=then)
            if self._may(0.4):
                today = timezone.localdate()
                until = today + self.rng.choice([-1, 0, 30]) * DAY
                Acceptance.objects.create(
                    **facts,
                    pinned_at=then,
                    reason="Known",
                    accepted_by=self.cast.officer,
                    accepted_on=today - 9 * DAY,
                    until=until,
                )

    def _lost(self, core: Core, housing: Housing) -> None:
        case = self.rng.choice([self.case, self.case, self.closed])
        CaseDoor.objects.create(
            case=case,
            look=self.rng.choice([1, 2, 2]),
            ordinal=next(_number),
            core=core,
            housing=housing,
            door=housing.door,
            door_class=housing.door.door_class,
            building=housing.door.building,
            site=self.cast.north,
            route="own",
            operates=True,
            withdraws=False,
            symbol=self.key,
            is_due=self._may(0.5),
            why="share",
            state=self.rng.choice(["exposed", "exposed", "cleared"]),
        )

    def _order(self, **of: Any) -> None:
        state = self.rng.choice(list(WorkOrder.State))
        closed = {"closed_at": self.now} if state in {"done", "cancelled"} else {}
        waits = {"waits_for": "A part"} if state == "waiting" else {}
        order = WorkOrder.objects.create(
            number=next(_number),
            site=self.cast.north,
            kind="swap",
            title="Work",
            opened_by=self.cast.locksmith,
            state=state,
            **closed,
            **waits,
        )
        OrderLine.objects.create(order=order, ordinal=1, state=self.rng.choice(["open", "cancelled"]), **of)
        if "housing" in of and self._may(0.2):
            core = Core.objects.filter(housing=of["housing"]).first()
            if core and not OrderLine.objects.filter(core=core, state="open").exists():
                self._shut(order, core, of["housing"])

    def _shut(self, order: WorkOrder, core: Core, housing: Housing) -> None:
        lifted = {"lifted_at": self.now} if self._may(0.4) else {}
        facts: dict[str, Any] = {"core": core, "housing": housing, "keeps_shut": True, "state": "done"}
        checks = ("operating_key_turned", "control_key_came_out", "egress_and_latch_tried")
        OrderLine.objects.create(
            order=order,
            ordinal=2,
            shut_at=self.now,
            done_at=self.now,
            done_by=self.cast.locksmith,
            **facts,
            **lifted,
            **dict.fromkeys(checks, True),
        )


class KeyRing:
    """Keys with copies in hand, in cabinets, lost, and in hand by another site's register."""

    def __init__(self, wild: Wild, rng: Random) -> None:
        self.wild, self.rng = wild, rng
        self.cabinet, self.abroad = (
            factories.make_cabinet(wild.cast.north),
            factories.make_cabinet(wild.cast.south),
        )
        numbers = [0, 1, 3, 5, 11, 17, 47, 65]
        self.symbols = [bare_key(wild.system, f"K{number}") for number in numbers]
        for symbol, number in zip(self.symbols, numbers, strict=True):
            self._copies(symbol, self.cabinet, number)
            self._copies(symbol, self.abroad, 2)
            factories.make_copy(symbol, self.cabinet)
        lost = factories.make_copy(self.symbols[0], self.cabinet)
        KeyCopy.objects.filter(pk=lost.pk).update(state="lost", cabinet=None)

    def _copies(self, symbol: KeySymbol, cabinet: Cabinet, number: int) -> None:
        holder, by = factories.make_holder(cabinet.site), self.wild.cast.desk
        act = factories.make_handover(cabinet.site, by=by, holder=holder)
        copies = KeyCopy.objects.bulk_create(
            KeyCopy(symbol=symbol, site=cabinet.site, state="in-cabinet", cabinet=cabinet)
            for _ in range(number)
        )
        lines = Custody.objects.bulk_create(
            Custody(copy=copy, holder=holder, handed_out_by=by, out_act=act) for copy in copies
        )
        for copy, line in zip(copies, lines, strict=True):
            copy.state, copy.holder, copy.cabinet, copy.custody = "held", holder, None, line
        KeyCopy.objects.bulk_update(copies, ["state", "holder", "cabinet", "custody"])

    def turn(self, core: Core) -> None:
        for symbol in self.rng.sample(self.symbols, self.rng.choice([0, 0, 1, 1, 2])):
            operates = self.rng.random() < 0.8
            Turn.objects.create(core=core, symbol=symbol, operates=operates, withdraws=not operates)


class Truth:
    """One door after the other, by plain conditions on the rows themselves."""

    def __init__(self, wild: Wild) -> None:
        self.wild = wild

    def cores(self, door: Door) -> str:
        states = {self._core(housing) for housing in door.housings.all()} or {"none"}
        order = ["disputed", "temporary", "empty", "unpinned", "unproven", "proven", "none"]
        return next(state for state in order if state in states)

    def _core(self, housing: Housing) -> str:
        core = housing.cores.first()
        if core is None:
            return "empty"
        if core.disputed_at:
            return "disputed"
        if any(each.ended_at is None for each in core.interims.all()):
            return "temporary"
        if core.pinned_at is None:
            return "unpinned"
        return "proven" if self._proven(core) else "unproven"

    def _proven(self, core: Core) -> bool:
        assert core.pinned_at is not None
        today = timezone.localdate()
        accepted = {
            (each.symbol_id, each.kind, each.pinned_at)
            for each in core.acceptances.all()
            if each.ended_at is None and each.until >= today
        }
        standing = [
            each
            for each in core.findings.all()
            if each.proof_id == self.wild.proof.pk and each.pinned_at == core.pinned_at
        ]
        all_accepted = all((each.symbol_id, each.kind, each.pinned_at) in accepted for each in standing)
        return core.pinned_at <= self.wild.proof.asked_at and all_accepted

    def _rows(self, door: Door) -> list[CaseDoor]:
        rows = [row for housing in door.housings.all() for row in housing.losses.select_related("case")]
        return [
            row
            for row in rows
            if row.case.state != "closed" and row.look == row.case.look and row.state == "exposed"
        ]

    def losses(self, door: Door) -> str:
        rows = self._rows(door)
        return "due" if any(row.is_due for row in rows) else "exposed" if rows else "none"

    def work(self, door: Door) -> str:
        lines = [*door.order_lines.all(), *(x for h in door.housings.all() for x in h.order_lines.all())]
        if any(line.is_shut for line in lines):
            return "shut"
        if any(row.is_due for row in self._rows(door)):
            return "due"
        going = {line.order.state for line in lines if line.state == "open" and line.order.is_open}
        names = [("under_way", "under-way"), ("waiting", "waiting"), ("open", "open")]
        return next((code for state, code in names if state in going), "none")

    def exposure(self, door: Door) -> str:
        cores = [core for h in door.housings.all() for core in h.cores.all() if core.pinned_at]
        figures = [
            row.accepts
            for core in cores
            for row in CoreExposure.objects.filter(core=core)
            if row.pinned_at == core.pinned_at
        ]
        if not figures:
            return "unknown" if cores else "none"
        worst = max(figures)
        return (
            "1"
            if worst <= 4
            else "2"
            if worst <= 16
            else "3"
            if worst <= 64
            else "4"
            if worst <= 256
            else "5"
        )

    def keys(self, door: Door) -> str:
        cores = [core for h in door.housings.all() for core in h.cores.all() if core.pinned_at]
        turns = [turn for core in cores for turn in core.turns.select_related("symbol") if turn.operates]
        copies = {copy.pk: copy for turn in turns for copy in turn.symbol.copies.all()}
        north = self.wild.cast.north
        out = sum(copy.state == "held" and copy.site_id == north.pk for copy in copies.values())
        if not out:
            return "0" if cores else "none"
        return "1" if out <= 4 else "2" if out <= 16 else "3" if out <= 64 else "4"

    def ask(self, question: Question, door: Door) -> str:
        found: str = getattr(self, question.code)(door)
        return found


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_every_door_is_in_the_state_that_its_rows_say(cast: Cast, seed: int) -> None:
    wild = Wild(cast, seed)
    truth, seen = Truth(wild), set()
    doors = Door.objects.filter(floor__building__site=cast.north)
    for question in QUESTIONS:
        said = dict(doors_with_state(question, cast.north, doors).values_list("pk", "state"))
        meant = {door.pk: truth.ask(question, door) for door in doors}
        assert said == meant
        assert counts_of_site(question, cast.north) == Counter(meant.values())
        seen |= {(question.code, state) for state in meant.values()}
    assert len(seen) >= 18


def test_a_floor_alone_says_of_its_doors_what_the_site_says(cast: Cast) -> None:
    """Kept to a place, the sets of doors lose none that is there."""
    wild = Wild(cast, 6)
    truth = Truth(wild)
    for floor in Floor.objects.filter(building__site=cast.north):
        doors = list(floor.doors.all())
        nears: list[dict[str, Any]] = [{"pk__in": [door.pk for door in doors]}]
        nears += [{"floor__building": floor.building}, {"floor__building__in": [floor.building_id]}]
        for question in QUESTIONS:
            for near in nears:
                rows = doors_with_state(question, cast.north, floor.doors.all(), near)
                said = dict(rows.values_list("pk", "state"))
                assert said == {door.pk: truth.ask(question, door) for door in doors}


def test_all_states_occur_among_the_drawn_doors(cast: Cast) -> None:
    """Else the comparison would say nothing of those that do not."""
    truth = Truth(Wild(cast, 4, doors=110))
    doors = list(Door.objects.filter(floor__building__site=cast.north))
    for question in (CORES, WORK, LOSSES, EXPOSURE, KEYS):
        assert {truth.ask(question, door) for door in doors} == {state.code for state in question.states}


def test_a_floor_counts_its_own_doors(cast: Cast) -> None:
    wild = Wild(cast, 5)
    truth = Truth(wild)
    buildings = list(cast.north.buildings.all())
    counted = counts_by_floor(CORES, cast.north, buildings)
    for building in buildings:
        for floor in building.floors.all():
            meant = Counter(truth.cores(door) for door in floor.doors.all())
            assert counted.get(floor.pk, Counter()) == meant


def test_letters_and_patterns_tell_the_states_of_a_question_apart() -> None:
    for question in QUESTIONS:
        assert len({state.letter for state in question.states}) == len(question.states)
        assert len({state.look for state in question.states}) == len(question.states)


def test_the_site_page_shows_the_same_counts(client: Client, cast: Cast) -> None:
    wild = Wild(cast, 6)
    truth = Truth(wild)
    client.force_login(cast.officer)
    doors = Door.objects.filter(floor__building__site=cast.north)
    for question in QUESTIONS:
        context = client.get(reverse("maps:site", args=[cast.north.pk]), {"ask": question.code}).context
        meant = Counter(truth.ask(question, door) for door in doors)
        assert {state.code: number for state, number in context["totals"] if number} == dict(meant)
