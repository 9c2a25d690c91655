"""The next free change against trying every key in every core, by the mechanics alone."""

from itertools import pairwise, product
from random import Random
from typing import Any

import pytest

from pinning import (
    POLICIES,
    Bitting,
    Refused,
    Surroundings,
    bitting_of,
    choose,
    load,
    operating_cuts,
    parse_bitting,
    parse_format,
    pin,
    progress,
    withdrawing_cuts,
)
from tests.pinning import cases
from tests.pinning.oracle import Core

Cuts = tuple[int, ...]
CASES_EACH = 150


class Town:
    """A small system: a master, keys below it with their cores, a control key, and keys of no order."""

    def __init__(self, rng: Random) -> None:
        while True:
            self.mapping = cases.random_mapping(rng)
            self.format = parse_format(self.mapping)
            keys = [self.random_key(rng) for _ in range(rng.randint(2, 6))]
            self.control = self.random_key(rng) if self.format.sleeve else None
            self.above, self.keys = keys[: rng.randint(1, 2)], keys
            self.pinned = [core for key in keys[2:4] if (core := self.pinned_for(key))]
            self.planned = [[key, *self.above] for key in keys[4:] if self.pinned_for(key)]
            if self.pinned_for(keys[0]):
                return

    def random_key(self, rng: Random) -> Bitting:
        return bitting_of(self.format, [rng.choice(self.format.depth_values) for _ in self.stacks])

    @property
    def stacks(self) -> range:
        return range(self.format.positions)

    def pinned_for(self, key: Bitting) -> Any:
        return cases.tried(
            self.format,
            list(dict.fromkeys([key.text, *(master.text for master in self.above)])),
            self.control.text if self.control else None,
        )

    def every_key(self) -> list[Bitting]:
        depths = self.format.depth_values
        return [bitting_of(self.format, cuts) for cuts in product(depths, repeat=self.format.positions)]

    def surroundings(self) -> Surroundings:
        return Surroundings(
            self.format,
            self.above,
            self.control,
            self.keys,
            cores=map(operating_cuts, self.pinned),
            sleeves=map(withdrawing_cuts, self.pinned),
            planned=self.planned,
        )


class Referee:
    """What is free and what it costs, with nothing but keys tried in cores."""

    def __init__(self, town: Town) -> None:
        self.town = town
        self.there = [self.core(core) for core in town.pinned]
        self.meant = [self.core(town.pinned_for(keyed[0])) for keyed in town.planned]

    def core(self, pinned: Any) -> Core:
        stacks = [
            {
                "position": stack.position,
                "bottom": stack.bottom,
                "masters": list(stack.masters),
                "control": stack.control,
                "top": stack.top,
            }
            for stack in pinned.stacks
        ]
        return Core(self.town.mapping, stacks)

    def is_free(self, key: Bitting) -> bool:
        town = self.town
        taken = {other.cuts for other in (*town.keys, *([town.control] if town.control else []))}
        if key.cuts in taken or any(any(core.what_turns(key.cuts)[:2]) for core in self.there + self.meant):
            return False
        pinned = town.pinned_for(key)
        if pinned is None:
            return False
        core, masters = self.core(pinned), {master.cuts for master in town.above}
        for other in town.keys:
            turns, takes_out, _ = core.what_turns(other.cuts)
            if (turns and other.cuts not in masters) or takes_out:
                return False
        return town.control is None or not core.what_turns(town.control.cuts)[0]

    def newly_accepted(self, key: Bitting) -> int:
        core, limit = self.core(self.town.pinned_for(key)), self.town.format.macs
        taken = {other.cuts for other in (*self.town.keys, key)}
        taken |= {self.town.control.cuts} if self.town.control else set()
        return sum(
            core.what_turns(cuts)[0]
            and cuts not in taken
            and (limit is None or all(abs(a - b) <= limit for a, b in pairwise(cuts)))
            and not any(other.what_turns(cuts)[0] for other in self.there)
            for cuts in product(self.town.format.depth_values, repeat=self.town.format.positions)
        )

    def nearest(self, key: Bitting) -> tuple[int, int] | None:
        masters = {master.cuts for master in self.town.above}
        found = []
        for other in self.town.keys:
            if other.cuts not in masters:
                steps = [abs(a - b) for a, b in zip(key.cuts, other.cuts, strict=True)]
                found.append((sum(step > 0 for step in steps), sum(steps)))
        return min(found, default=None)


@pytest.mark.parametrize("policy", POLICIES)
@pytest.mark.parametrize("seed", range(4))
def test_the_policy_chooses_what_trying_every_key_says(policy: str, seed: int) -> None:
    rng, chosen = Random(seed), 0
    for _ in range(CASES_EACH):
        town = Town(rng)
        referee, candidates = Referee(town), town.every_key()
        rng.shuffle(candidates)
        free = [key for key in candidates[:40] if referee.is_free(key)]
        if not free:
            with pytest.raises(Refused, match="Nothing is left below this key"):
                choose(town.surroundings(), candidates[:40], policy)
            continue
        found = choose(town.surroundings(), candidates[:40], policy)
        chosen += 1
        assert found.bitting.cuts == best(referee, free, policy).cuts
        assert found.nearest == referee.nearest(found.bitting)
        assert found.incidental == referee.newly_accepted(found.bitting)
    assert chosen > CASES_EACH // 4


@pytest.mark.parametrize("policy", POLICIES)
@pytest.mark.parametrize("seed", range(2))
def test_what_was_taken_is_a_key_with_a_core_from_then_on(policy: str, seed: int) -> None:
    """Choosing after taking is choosing in a town where the taken key stands among the others."""
    rng, compared = Random(seed), 0
    for _ in range(CASES_EACH):
        town = Town(rng)
        candidates = town.every_key()[:60]
        surroundings = town.surroundings()
        try:
            first = choose(surroundings, candidates, policy).bitting
        except Refused:
            continue
        surroundings.take(first)
        town.keys.append(first)
        town.pinned.append(town.pinned_for(first))
        afresh = town.surroundings()
        assert chosen_of(surroundings, candidates, policy) == chosen_of(afresh, candidates, policy)
        compared += 1
    assert compared > CASES_EACH // 4


def chosen_of(surroundings: Surroundings, candidates: list[Bitting], policy: str) -> Any:
    try:
        return choose(surroundings, candidates, policy)
    except Refused as refused:
        return str(refused)


def best(referee: Referee, free: list[Bitting], policy: str) -> Bitting:
    if policy == "distance":
        return max(free, key=lambda key: referee.nearest(key) or (0, 0))
    return min(free, key=referee.newly_accepted) if policy == "incidental" else free[0]


def in_a2(*texts: str) -> list[Bitting]:
    return [parse_bitting(load("small-a2-6"), text) for text in texts]


def test_it_says_what_became_of_every_bitting() -> None:
    format, (master, used) = load("small-a2-6"), in_a2("143254", "143250")
    candidates = list(progress(format, master, sequence=[6]).usable())
    core = pin(format, ["143256", "143254"], "016565")
    surroundings = Surroundings(
        format, [master], parse_bitting(format, "016565"), [used, master], cores=[operating_cuts(core)]
    )
    with pytest.raises(Refused) as refused:
        choose(surroundings, [candidates[0], candidates[2], *in_a2("243254")], "sequence")
    (reason,) = refused.value.refusals
    assert reason.code == "no_change_left"
    assert reason.message == (
        "Nothing is left below this key. Of 3 bittings 1 already is a key's, 1 would turn or take out a core "
        "that it must not, 1 would have a core that cannot be pinned."
    )


def test_nothing_below_a_key_of_the_last_level_is_said_in_words() -> None:
    format, (master,) = load("small-a2-6"), in_a2("143254")
    with pytest.raises(Refused, match="no position is left for a level below it"):
        choose(Surroundings(format, [master], None, []), [], "sequence")


def test_a_choice_among_too_many_is_refused() -> None:
    format, (master,) = load("small-a2-6"), in_a2("143254")
    key = progress(format, master)[7]
    with pytest.raises(Refused) as refused:
        choose(Surroundings(format, [master], None, [key]), [key] * 1_000_001, "distance")
    assert [reason.code for reason in refused.value.refusals] == ["too_large"]


def test_in_a_progressed_system_the_next_in_sequence_is_the_next_of_the_page() -> None:
    """Every change of total position progression is apart from every other, so none is passed over."""
    format, (master,) = load("small-a2-6"), in_a2("143254")
    keys = progress(format, master)
    for made in (0, 1, 7):
        used = list(keys.between(0, made))
        planned = [[key, master] for key in used]
        (control,) = in_a2("016565")
        surroundings = Surroundings(format, [master], control, [*used, master], planned=planned)
        assert choose(surroundings, keys.usable(), "sequence").bitting == keys[made]
