"""Joins and bit rows against a sparse matrix product, a plain join of sets, and turning each key."""

import os
from dataclasses import replace
from itertools import product
from random import Random

import numpy as np
import pytest
from scipy import sparse

from pinning import Bitting, CoreFormat, Pinning, PinningError, Refused, joins, parse_any_bitting, turn
from pinning.bitrows import CoreRows, KeyRows
from pinning.estates import Estate, EstateCore, EstateKey
from pinning.joins import join
from pinning.sides import CoreSide, KeySide, audit
from pinning.tries import Boxes, BoxTrie, Cuts, KeyTrie
from tests.pinning import cases

# How many random small estates are tried; the full referee is run by hand with 100,000.
CASES = int(os.environ.get("PINNING_CASES", "3000"))
SHARES = 20


def random_arrays(rng: np.random.Generator) -> tuple[Cuts, Boxes, int]:
    """Keys and boxes of one random shape: some alike, some positions that nothing or everything clears."""
    positions, depths = int(rng.integers(1, 8)), int(rng.choice([2, 3, 5, 10, 17, 64]))
    cuts = rng.integers(0, depths, (int(rng.integers(0, 60)), positions))
    boxes = np.zeros((int(rng.integers(0, 60)), positions), np.uint64)
    for _ in range(int(rng.integers(0, 4))):
        boxes |= np.uint64(1) << rng.integers(0, depths, boxes.shape).astype(np.uint64)
    everything = np.uint64((1 << depths) - 1)
    boxes[rng.random(boxes.shape) < 0.3] = everything
    return cuts.astype(np.uint8), boxes, depths


def by_sparse_product(cuts: Cuts, boxes: Boxes, depths: int) -> set[tuple[int, int]]:
    """One column per position and depth; a pair fits where the product counts every position."""
    keys = np.eye(depths, dtype=np.int32)[cuts].reshape(len(cuts), -1)
    bits = (boxes[:, :, None] >> np.arange(depths, dtype=np.uint64)) & np.uint64(1)
    cores = bits.astype(np.int32).reshape(len(boxes), -1)
    found = sparse.csr_array(keys) @ sparse.csr_array(cores).T
    rows, columns = (found == cuts.shape[1]).nonzero()
    return set(zip(rows.tolist(), columns.tolist(), strict=True))


def by_sets(cuts: Cuts, boxes: Boxes) -> set[tuple[int, int]]:
    return {
        (key, core)
        for (key, row), (core, box) in product(enumerate(cuts.tolist()), enumerate(boxes.tolist()))
        if all(box[place] >> cut & 1 for place, cut in enumerate(row))
    }


@pytest.mark.parametrize("seed", range(150))
def test_a_join_equals_a_sparse_product_and_a_join_of_sets(seed: int) -> None:
    cuts, boxes, depths = random_arrays(np.random.default_rng(seed))
    found = join(KeyTrie(cuts, depths), BoxTrie(boxes, depths))
    expected = by_sets(cuts, boxes)
    assert len(found) == len(expected)
    assert set(found.listed()) == expected
    if len(cuts) and len(boxes):
        assert by_sparse_product(cuts, boxes, depths) == expected


@pytest.mark.parametrize("seed", range(30))
def test_pairs_come_sorted_with_their_counts(seed: int) -> None:
    cuts, boxes, depths = random_arrays(np.random.default_rng(seed))
    found = join(KeyTrie(cuts, depths), BoxTrie(boxes, depths))
    assert found.keys.dtype == found.cores.dtype == found.counts.dtype == np.int32
    assert (np.diff(found.cores) >= 0).all()
    assert found.counts.tolist() == np.bincount(found.cores, minlength=len(boxes)).tolist()
    by_key = found.by_key(len(cuts))
    assert by_key.listed() == sorted(found.listed())
    assert by_key.counts.tolist() == np.bincount(found.keys, minlength=len(cuts)).tolist()
    turned = [(core, key) for key, core in by_key.by_core().listed()]
    assert turned == sorted((core, key) for key, core in found.listed())


@pytest.mark.parametrize("seed", range(40))
def test_a_join_in_small_steps_gives_the_same(seed: int, monkeypatch: pytest.MonkeyPatch) -> None:
    cuts, boxes, depths = random_arrays(np.random.default_rng(seed))
    keys, cores = KeyTrie(cuts, depths), BoxTrie(boxes, depths)
    whole = join(keys, cores)
    monkeypatch.setattr(joins, "LARGEST_STEP", 3)
    assert join(keys, cores).listed() == whole.listed()


def test_sixteen_positions_of_sixty_four_depths_are_more_than_one_number_holds() -> None:
    rng = np.random.default_rng(1)
    cuts = rng.integers(0, 64, (50, 16)).astype(np.uint8)
    boxes = (np.uint64(1) << cuts.astype(np.uint64)) | (np.uint64(1) << cuts[::-1].astype(np.uint64))
    found = join(KeyTrie(cuts, 64), BoxTrie(boxes, 64))
    assert set(found.listed()) == by_sets(cuts, boxes)
    assert len(found) >= 50


def test_more_pairs_than_asked_for_are_refused() -> None:
    cuts, boxes = np.zeros((4, 2), np.uint8), np.ones((3, 2), np.uint64)
    assert len(join(KeyTrie(cuts, 2), BoxTrie(boxes, 2), most=12)) == 12
    with pytest.raises(Refused) as refused:
        join(KeyTrie(cuts, 2), BoxTrie(boxes, 2), most=11)
    assert [refusal.code for refusal in refused.value.refusals] == ["too_large"]


def test_sides_of_different_shapes_are_not_joined() -> None:
    with pytest.raises(PinningError):
        join(KeyTrie(np.zeros((1, 2), np.uint8), 2), BoxTrie(np.ones((1, 3), np.uint64), 2))


@pytest.mark.parametrize("seed", range(100))
def test_bit_rows_equal_the_join_of_sets_also_after_changes(seed: int) -> None:
    rng = np.random.default_rng(seed)
    cuts, boxes, depths = random_arrays(rng)
    rows, keys = CoreRows(boxes, depths), KeyRows(cuts, depths)
    changed = boxes.copy()
    for core in rng.permutation(len(boxes))[:5].tolist():
        changed[core] = rng.permutation(boxes)[0]
        rows.change(core, changed[core].tolist())
    expected = by_sets(cuts, changed)
    for key, row in enumerate(cuts.tolist()):
        assert rows.cores_of(row).tolist() == sorted(core for one, core in expected if one == key)
    for core, box in enumerate(changed.tolist()):
        assert keys.keys_of(box).tolist() == sorted(key for key, one in expected if one == core)


def small_estate(rng: Random, format: CoreFormat) -> tuple[dict[int, Bitting], dict[int, Pinning]]:
    texts = [cases.random_text(rng, format) for _ in range(rng.randint(0, 4))]
    cores = {place: cases.random_core(rng, format) for place in range(rng.randint(0, 3))}
    return {place: parse_any_bitting(format, text) for place, text in enumerate(texts)}, cores


@pytest.mark.parametrize("share", range(SHARES))
def test_an_audit_equals_turning_every_key_in_every_core(share: int) -> None:
    rng = Random(share)
    for _ in range(CASES // SHARES):
        format = cases.random_format(rng)
        keys, cores = small_estate(rng, format)
        turned = {(key, core): turn(cores[core], keys[key]) for key in keys for core in cores}
        found = audit(KeySide(format, keys), CoreSide(format, cores))
        assert sorted(found.operates.listed()) == sorted(pair for pair in turned if turned[pair].operates)
        assert sorted(found.withdraws.listed()) == sorted(pair for pair in turned if turned[pair].withdraws)


@pytest.mark.parametrize("seed", range(60))
def test_one_core_and_one_key_alone_get_the_same_answers_as_in_the_audit(seed: int) -> None:
    rng = Random(seed)
    format = cases.random_format(rng)
    keys, cores = small_estate(rng, format)
    cut, placed = KeySide(format, keys), CoreSide(format, cores)
    if cores:
        cores[0] = cases.random_core(rng, format)
        placed.change(0, cores[0])
    for core, pinning in cores.items():
        operating, withdrawing = cut.turning(pinning)
        assert operating.tolist() == [key for key in keys if turn(pinning, keys[key]).operates]
        assert withdrawing.tolist() == [key for key in keys if turn(pinning, keys[key]).withdraws]
        assert core in cores
    for key in keys.values():
        operated, withdrawn = placed.turned_by(key)
        assert operated.tolist() == [core for core in cores if turn(cores[core], key).operates]
        assert withdrawn.tolist() == [core for core in cores if turn(cores[core], key).withdraws]


KEYWAYS = ("C", "D", "E")


class RandomEstate:
    """Two formats, three keyways and a one-way table of which blank enters which."""

    def __init__(self, rng: Random) -> None:
        formats = [cases.random_format(rng) for _ in range(2)]
        self.formats = [_renamed(format, f"format-{place}") for place, format in enumerate(formats)]
        self.fits = {pair for pair in product(KEYWAYS, KEYWAYS) if rng.random() < 0.4}
        self.keys = [self._key(rng, place) for place in range(rng.randint(0, 12))]
        self.cores = [self._core(rng, place) for place in range(rng.randint(0, 8))]
        self.estate = Estate(self.keys, self.cores, lambda blank, core: (blank, core) in self.fits)

    def _key(self, rng: Random, place: int) -> EstateKey[str]:
        format = rng.choice(self.formats)
        bitting = parse_any_bitting(format, cases.random_text(rng, format))
        return EstateKey(f"key {place}", format, rng.choice(KEYWAYS), bitting)

    def _core(self, rng: Random, place: int) -> EstateCore[str]:
        pinning = cases.random_core(rng, rng.choice(self.formats))
        return EstateCore(f"core {place}", rng.choice(KEYWAYS), pinning)

    def turning(self, effect: str) -> list[tuple[int, int]]:
        """(core, key) of each pair, tried one by one."""
        return [
            (core, key)
            for core, placed in enumerate(self.cores)
            for key, cut in enumerate(self.keys)
            if cut.format == placed.pinning.format
            and (cut.keyway, placed.keyway) in self.fits
            and getattr(turn(placed.pinning, cut.bitting), effect)
        ]


def _renamed(format: CoreFormat, id: str) -> CoreFormat:
    return replace(format, id=id)


@pytest.mark.parametrize("seed", range(80))
def test_only_keys_that_enter_the_keyway_are_tried(seed: int) -> None:
    rng = Random(seed)
    made = RandomEstate(rng)
    found = made.estate.audit()
    assert [(core, key) for key, core in found.operates.listed()] == made.turning("operates")
    assert [(core, key) for key, core in found.withdraws.listed()] == made.turning("withdraws")
    assert found.operates.counts.sum() == len(found.operates)


@pytest.mark.parametrize("seed", range(40))
def test_a_changed_core_is_tried_on_the_keys_that_enter_it(seed: int) -> None:
    rng = Random(seed)
    made = RandomEstate(rng)
    for core, placed in enumerate(made.cores):
        pinning = cases.random_core(rng, placed.pinning.format)
        operating, withdrawing = made.estate.change_core(core, pinning)
        made.cores[core] = EstateCore(placed.id, placed.keyway, pinning)
        assert operating.tolist() == [key for one, key in made.turning("operates") if one == core]
        assert withdrawing.tolist() == [key for one, key in made.turning("withdraws") if one == core]
    again = made.estate.audit()
    assert [(core, key) for key, core in again.operates.listed()] == made.turning("operates")
    for key, cut in enumerate(made.keys):
        operated, withdrawn = made.estate.turned_by(cut)
        assert operated.tolist() == [core for core, one in made.turning("operates") if one == key]
        assert withdrawn.tolist() == [core for core, one in made.turning("withdraws") if one == key]


def test_an_estate_past_the_limit_is_refused() -> None:
    turning = (
        made for seed in range(50) if len((made := RandomEstate(Random(seed))).estate.audit().operates)
    )
    made = next(turning)
    with pytest.raises(Refused):
        made.estate.audit(most=0)
