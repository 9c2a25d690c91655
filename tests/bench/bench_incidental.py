"""Incidental keys: the exact union of boxes against a Python set of all its bittings, on the same boxes."""

from itertools import pairwise, product

from pinning.bittings import Bitting, bitting_of
from pinning.columns import Pinning, PinStack
from pinning.formats import load
from pinning.incidental import count_states, count_union
from pinning.nearness import NearKeys
from pinning.rules import Rules
from pinning.sampling import estimate_union
from tests.bench.estate import DEPTHS, ReferenceEstate, reference_estate
from tests.bench.report import MOST_MIB, Report, best_of, drawn, peak_memory_mib, sized

Box = tuple[tuple[int, ...], ...]
MANY, SLICE, LIMIT = sized(10_000, 1_000), 20, Rules(macs=7)


def run(report: Report) -> None:
    _larger(report)
    _limited(report, _random(MANY, 7, 3))
    _beyond_a_table(report)
    _estimated(report)
    report.at_most("peak memory of incidental keys", peak_memory_mib(), MOST_MIB, "MiB")
    reference = _boxes(reference_estate(MANY, MANY))
    _against_a_set(report, "10,000 random cores, 3 depths in each of 7", _random(MANY, 7, 3), wanted=40)
    _against_a_set(report, "10,000 cores of the reference estate", reference, wanted=3)
    _near(report)


def _random(number: int, positions: int, width: int) -> list[Box]:
    rng = drawn()
    return [
        tuple(tuple(sorted(rng.sample(range(10), width))) for _ in range(positions)) for _ in range(number)
    ]


def _enumerated(boxes: list[Box]) -> int:
    """The strongest plain way: a set grown box by box."""
    found: set[tuple[int, ...]] = set()
    for box in boxes:
        found.update(product(*box))
    return len(found)


def _against_a_set(report: Report, name: str, boxes: list[Box], wanted: float) -> None:
    ours, counted = best_of(5, lambda: count_union(boxes))
    theirs, listed = best_of(1, lambda: _enumerated(boxes))
    if counted != listed:
        raise AssertionError((counted, listed))
    report.ratio(name, ours, theirs, wanted, f"{counted:,} bittings")


def _larger(report: Report) -> None:
    for name, boxes in (
        ("100,000 cores of the reference estate", _boxes(reference_estate(MANY, 10 * MANY))),
        ("2,000 random cores, 3 depths in each of 9: a table of 10^9", _random(2_000, 9, 3)),
    ):
        seconds, counted = best_of(1, lambda boxes=boxes: count_union(boxes, LIMIT))  # type: ignore[misc]
        report.note(f"{name}, MACS 7: {counted:,} bittings in {seconds:,.2f} s")


def _limited(report: Report, boxes: list[Box]) -> None:
    seconds, counted = best_of(3, lambda: count_union(boxes, LIMIT))
    report.note(f"the same random cores within MACS 7: {counted:,} bittings in {seconds * 1e3:,.0f} ms")
    seconds, counted = best_of(1, lambda: count_union(boxes, Rules(macs=7, max_run=2, min_distinct=3)))
    report.note(f"and at most 2 alike in a row, 3 depths at least: {counted:,} in {seconds * 1e3:,.0f} ms")


def _beyond_a_table(report: Report) -> None:
    """Twelve positions of ten depths: 10^12 combinations."""
    boxes = _progressed(1_000)
    seconds, counted = best_of(3, lambda: count_states(boxes, LIMIT))
    report.at_most("1,000 progressed cores of 12 positions", seconds, 0.2, remark=f"{counted:,} bittings")
    boxes = _random(1_000, 12, 2)
    seconds, counted = best_of(3, lambda: count_states(boxes, Rules()))
    report.note(f"1,000 random cores, 2 depths in each of 12: {counted:,} in {seconds * 1e3:,.0f} ms")


def _progressed(number: int) -> list[Box]:
    """Total position progression by two steps: the top master's cut and the change's, in 12 positions."""
    rng = drawn(1)
    rows = [rng.sample(range(rng.randint(0, 1), 10, 2), 5) for _ in range(12)]
    changes = [[1 + (place // 4**digit) % 4 for digit in range(12)] for place in range(number)]
    return [
        tuple(tuple(sorted({row[0], row[digit]})) for row, digit in zip(rows, digits, strict=True))
        for digits in changes
    ]


def _estimated(report: Report) -> None:
    """What is refused as too large, by drawing."""
    boxes = _random(5_000, 12, 3)
    seconds, found = best_of(1, lambda: estimate_union(boxes, LIMIT, drawn()))
    width = (found.high - found.low) / 2 / found.value
    report.note(
        f"5,000 random cores, 3 depths in each of 12 (an estimate): {found.value:,} +- {width:.2%} "
        f"with {found.confidence:.0%} in {seconds:,.1f} s"
    )


def _boxes(estate: ReferenceEstate) -> list[Box]:
    return [
        tuple(tuple(depth for depth in range(DEPTHS) if bits >> depth & 1) for bits in row)
        for row in estate.boxes.tolist()
    ]


def _pinned(box: Box) -> Pinning:
    """Pins that clear just these cuts, whatever a kit has."""
    stacks = [
        PinStack(place, cuts[0], tuple(b - a for a, b in pairwise(cuts)), None, 5)
        for place, cuts in enumerate(box, 1)
    ]
    return Pinning(load("small-a2-7"), tuple(stacks))


def _near(report: Report) -> None:
    """Keys two increments off in one position (one step of the series); the other way looks at every pair."""
    estate = reference_estate(MANY, MANY)
    keys = [bitting_of(load("small-a2-7"), row) for row in estate.keys.tolist()]
    boxes = _boxes(estate)
    cores = [_pinned(box) for box in boxes]
    ours, found = best_of(1, lambda: _indexed(keys, cores))
    theirs, counted = best_of(1, lambda: [_looked_at(box, keys) for box in boxes[:SLICE]])
    if counted != found[:SLICE]:
        raise AssertionError((counted, found[:SLICE]))
    remark = f"{sum(found):,} found; scaled up from {SLICE} cores"
    report.ratio("near misses, 10,000 keys in 10,000 cores", ours, theirs * MANY / SLICE, 20, remark)


def _indexed(keys: list[Bitting], cores: list[Pinning]) -> list[int]:
    index = NearKeys(dict(enumerate(keys)))
    return [sum(1 for _ in index.near(core, "operating", reach=2)) for core in cores]


def _looked_at(box: Box, keys: list[Bitting]) -> int:
    columns = [set(column) for column in box]
    near = [{cut + shift for cut in column for shift in (-2, -1, 1, 2)} for column in columns]
    count = 0
    for key in keys:
        off = [place for place, cut in enumerate(key.cuts) if cut not in columns[place]]
        count += len(off) == 1 and key.cuts[off[0]] in near[off[0]]
    return count
