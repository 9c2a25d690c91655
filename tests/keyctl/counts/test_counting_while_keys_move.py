"""Random worlds: keys are issued, returned, moved, lost and found while somebody counts a cabinet.

The referee knows where each key really is and notes every act; it reads no version and no scan row.
"""

from dataclasses import dataclass, field
from random import Random

import pytest

from keyctl.counts.models import Count
from keyctl.keys import services as keys
from keyctl.keys.models import KeyCopy
from tests.keyctl.counts.countroom import CountRoom

STEPS = 30


@dataclass
class World:
    """``where`` is the register's word, ``really`` where the key is; they part only where one is mislaid."""

    room: CountRoom
    rng: Random
    copies: list[KeyCopy]
    where: dict[str, str]
    really: dict[str, str]
    handled: set[str] = field(default_factory=set)
    scanned: dict[str, str] = field(default_factory=dict)

    def act(self) -> None:
        """Somebody does something with a key that really is where the register says."""
        copy = self.rng.choice(self.copies)
        serial = copy.serial
        place = self.where[serial]
        if self.really[serial] != place:
            return
        copy.refresh_from_db()
        if place in {"here", "there"}:
            to = self.rng.choice(
                ["held", "lost", "destroyed", "there" if place == "here" else "here", "broken"]
            )
        else:
            to = {"held": self.rng.choice(["here", "there"]), "lost": "here"}.get(place, "")
        if not to or (to in {"held", "broken"} and copy.is_broken):
            return
        self._write(copy, place, to)
        if to != "broken":
            self.where[serial] = self.really[serial] = to
            self.handled.add(serial)

    def _write(self, copy: KeyCopy, place: str, to: str) -> None:
        room, cabinets = self.room, {"here": self.room.cabinet, "there": self.room.other}
        if to == "held":
            room.give(copy)
        elif to == "lost":
            keys.report_lost(actor=room.desk, copy=copy)
        elif to == "destroyed":
            keys.destroy_copy(actor=room.desk, copy=copy, reason="Worn")
        elif to == "broken":
            keys.report_broken(actor=room.desk, copy=copy, note="Bent")
        elif place == "held":
            keys.return_keys(actor=room.desk, copies=[copy], cabinet=cabinets[to])
        elif place == "lost":
            keys.take_found(actor=room.desk, copy=copy, cabinet=cabinets[to])
        else:
            keys.move_copies(actor=room.desk, copies=[copy], cabinet=cabinets[to])

    def scan(self, count: Count) -> None:
        """The counter takes a key that really hangs here and that they have not had in hand yet."""
        here = [copy for copy in self.copies if self.really[copy.serial] == "here"]
        left = [copy for copy in here if copy.serial not in self.scanned]
        if left:
            copy = self.rng.choice(left)
            self.room.scan(count, copy)
            self.scanned[copy.serial] = self.where[copy.serial]

    def differences(self, at_start: set[str]) -> set[tuple[str, str]]:
        """By the referee: what nobody handled and nobody saw, and what was seen where it should not be."""
        missing = {("missing", serial) for serial in at_start - self.scanned.keys() - self.handled}
        wrong = set()
        for serial, then in self.scanned.items():
            end = self.where[serial]
            if then == end and then in {"lost", "destroyed"}:
                wrong.add((f"{then}-found", serial))
            elif "here" not in {then, end}:
                wrong.add(("misplaced", serial))
        return missing | wrong


def build(room: CountRoom, seed: int) -> World:
    rng = Random(seed)
    copies = [*room.stock(6), *room.stock(3, cabinet=room.other)]
    where = {copy.serial: "here" if copy.cabinet == room.cabinet else "there" for copy in copies}
    world = World(room, rng, copies, where, dict(where))
    for _ in range(4):
        world.act()
    return world


@pytest.mark.parametrize("seed", range(8))
def test_differences_are_the_referees(room: CountRoom, seed: int) -> None:
    world = build(room, seed)
    for copy in world.rng.sample(world.copies, 3):
        world.really[copy.serial] = world.rng.choice(["here", "elsewhere"])
    at_start = {serial for serial, place in world.where.items() if place == "here"}
    world.handled.clear()
    count = room.begin()
    for _ in range(STEPS):
        world.act() if world.rng.random() < 0.4 else world.scan(count)
    closed = room.close(count)
    assert room.found(count) == world.differences(at_start)
    assert closed.difference_count == len(world.differences(at_start))
    assert closed.law_breaches == 0


@pytest.mark.parametrize("seed", range(4))
def test_a_world_in_order_has_no_difference_however_much_moves(room: CountRoom, seed: int) -> None:
    world = build(room, 100 + seed)
    count = room.begin()
    for _ in range(STEPS):
        world.act() if world.rng.random() < 0.5 else world.scan(count)
    for _ in world.copies:
        world.scan(count)
    room.close(count)
    assert room.found(count) == set()
