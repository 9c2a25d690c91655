"""A key in the place of a lost one, against trying every bitting in every core by the mechanics alone."""

from collections.abc import Hashable
from dataclasses import asdict
from itertools import pairwise, product
from random import Random
from typing import Any

import numpy as np
import pytest

from pinning.bittings import Bitting, bitting_of, parse_bitting
from pinning.formats import load, parse_format
from pinning.rekeying import Ground, Outside, Part, fits_kit
from pinning.replacing import replace_key
from pinning.sides import CoreSide
from tests.pinning import cases
from tests.pinning.oracle import Core

CASES_EACH = 60
SEEDS = range(3)


class House:
    """Cores beneath a key that is lost, cores outside, and every key that enters them."""

    def __init__(self, rng: Random) -> None:
        while not self._drawn(rng):
            pass

    def _drawn(self, rng: Random) -> bool:
        self.mapping = cases.random_mapping(rng)
        self.format = parse_format(self.mapping)
        self.lost = self.random_key(rng)
        self.control = self.random_key(rng) if self.format.sleeve else None
        stay = [[self.similar(rng) for _ in range(rng.randint(1, 2))] for _ in range(rng.randint(1, 3))]
        now = [self.pinned([*keys, self.lost]) for keys in stay]
        self.stay = [keys for keys, core in zip(stay, now, strict=True) if core]
        self.now = [core for core in now if core]
        others = [self.similar(rng) for _ in range(rng.randint(0, 3))]
        self.outside = [core for key in others if (core := self.pinned([key]))]
        keys = {key.cuts: key for group in stay for key in group} | {key.cuts: key for key in others}
        if self.control is not None:
            keys.pop(self.control.cuts, None)
        self.keys = keys | {self.lost.cuts: self.lost}
        return bool(self.now) and (self.control is None or self.control.cuts != self.lost.cuts)

    def random_key(self, rng: Random) -> Bitting:
        return bitting_of(
            self.format, [rng.choice(self.format.depth_values) for _ in range(self.format.positions)]
        )

    def similar(self, rng: Random) -> Bitting:
        text = cases.similar_text(rng, self.format, self.lost.text)
        return bitting_of(
            self.format, [self.format.depth_values[self.format.depths.index(symbol)] for symbol in text]
        )

    def pinned(self, keys: list[Bitting]) -> Any:
        texts = list(dict.fromkeys(key.text for key in keys))
        return cases.tried(self.format, texts, self.control.text if self.control else None)

    def ground(self) -> Ground:
        keys: dict[Any, Bitting] = dict(self.keys)
        if self.control is not None:
            keys["control"] = self.control
        side = CoreSide(self.format, dict(enumerate(self.outside)))
        known = [
            (place, name, *self.effect(core, key.cuts))
            for place, core in enumerate(self.now)
            for name, key in keys.items()
            if any(self.effect(core, key.cuts))
        ]
        return Ground(
            Part(self.format, self.stay, self.control),
            keys,
            lost=[self.lost.cuts],
            control="control",
            outside=Outside(np.concatenate([side.operating, side.withdrawing])),
            known=known,
        )

    def effect(self, core: Any, cuts: tuple[int, ...]) -> tuple[bool, bool]:
        stacks = [asdict(stack) | {"masters": list(stack.masters)} for stack in core.stacks]
        return Core(self.mapping, stacks).what_turns(cuts)[:2]

    def is_good(self, cuts: tuple[int, ...]) -> bool:
        """Whether a key of these cuts may stand in the place of the lost one, tried lock by lock."""
        macs = self.format.macs
        if macs is not None and any(abs(one - two) > macs for one, two in pairwise(cuts)):
            return False
        taken = [*self.keys, *([self.control.cuts] if self.control else [])]
        if cuts in taken or any(any(self.effect(core, cuts)) for core in self.outside):
            return False
        return all(self._suits(place, cuts) for place in range(len(self.now)))

    def _suits(self, place: int, cuts: tuple[int, ...]) -> bool:
        core = self.pinned([*self.stay[place], bitting_of(self.format, cuts)])
        if core is None or self.effect(core, cuts) != (True, False):
            return False
        if any(self.effect(core, self.lost.cuts)):
            return False
        if self.control is not None:
            before = self.effect(self.now[place], self.control.cuts)
            if self.effect(core, self.control.cuts)[0] and not before[0]:
                return False
        return not any(
            any(
                new and not old
                for new, old in zip(self.effect(core, key), self.effect(self.now[place], key), strict=True)
            )
            for key in self.keys
        )

    def good(self) -> set[tuple[int, ...]]:
        every = product(self.format.depth_values, repeat=self.format.positions)
        return {cuts for cuts in every if self.is_good(cuts)}


@pytest.mark.parametrize("seed", SEEDS)
def test_a_key_is_found_exactly_where_trying_all_finds_one(seed: int) -> None:
    rng, found, none = Random(seed), 0, 0
    for _ in range(CASES_EACH):
        house = House(rng)
        answer, good = replace_key(house.ground(), rng=rng), house.good()
        assert answer.status == ("found" if good else "impossible"), (house.mapping, answer.reason)
        if answer.bitting is not None:
            assert answer.bitting.cuts in good
        found, none = found + bool(good), none + (not good)
    assert found > CASES_EACH // 20
    assert none > CASES_EACH // 20


@pytest.mark.parametrize("seed", SEEDS[:1])
def test_of_a_list_the_first_that_suits_is_taken(seed: int) -> None:
    rng = Random(100 + seed)
    for _ in range(CASES_EACH):
        house = House(rng)
        listed = [house.random_key(rng) for _ in range(12)]
        suits = [key.cuts for key in listed if house.is_good(key.cuts)]
        answer = replace_key(house.ground(), candidates=listed)
        assert (answer.bitting.cuts if answer.bitting else None) == (suits[0] if suits else None)


def test_where_the_keys_that_stay_let_the_lost_one_in_the_cores_are_named() -> None:
    a2 = load("small-a2-6")
    stay = [[parse_bitting(a2, "143210")], [parse_bitting(a2, "343254"), parse_bitting(a2, "163254")]]
    lost: dict[Hashable, Bitting] = {"lost": parse_bitting(a2, "143254")}
    answer = replace_key(Ground(Part(a2, stay, parse_bitting(a2, "016565")), lost, lost=["lost"]))
    assert (answer.status, answer.reason, answer.cores) == ("impossible", "kept", (1,))


def test_a_search_that_runs_out_of_time_does_not_call_itself_impossible() -> None:
    a2 = load("small-a2-6")
    keys: dict[Hashable, Bitting] = {"lost": parse_bitting(a2, "143254")}
    ground = Ground(
        Part(a2, [[parse_bitting(a2, "301010")]], parse_bitting(a2, "016565")), keys, lost=["lost"]
    )
    answer = replace_key(ground, limit_s=-1)
    assert (answer.status, answer.reason) == ("unknown", "time")


def test_the_kit_is_asked_as_pinning_asks_it() -> None:
    rng, told = Random(5), {True: 0, False: 0}
    for _ in range(400):
        format = parse_format(cases.random_mapping(rng))
        cuts = [rng.choice(format.depth_values) for _ in range(2)]
        control = rng.choice(format.depth_values) if format.sleeve else None
        texts = [format.symbol_of(cut) * format.positions for cut in dict.fromkeys(cuts)]
        control_key = None if control is None else format.symbol_of(control) * format.positions
        pinned = cases.tried(format, texts, control_key)
        fits = all(fits_kit(format, place + 1, cuts, control) for place in range(format.positions))
        if pinned is not None:
            assert fits
        told[fits] += 1
    assert min(told.values()) > 20
