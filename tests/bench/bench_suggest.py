"""Choosing keys for doors: CP-SAT by cases against HiGHS on the same reduced question, of 100,000 doors.

The estate is invented: masters over 16, 256 and 4,096 doors and 20,000 selective keys. The fewest extra
doors are looked for without keys of one door only (with those the answer is trivial: no extra door, a key
for each); the whole front, from that end to the fewest keys, with them: 126,666 keys. Times are processor
seconds: both solvers work in one thread, and other work on the machine does not count.
"""

from __future__ import annotations

import time
from random import Random

import numpy as np
from scipy.optimize import Bounds, LinearConstraint, milp
from scipy.sparse import coo_array

from pinning.choosing import _Solving, choose_keys, preview_keys
from pinning.covers import Cover, bits_of, reduce_cover
from pinning.fronts import preview_front
from tests.bench.report import Report, drawn, sized

DOORS = sized(100_000, 10_000)
LIMIT_S = float(sized(200, 10))
FRONT_LIMIT_S = float(sized(60, 10))
Opens = dict[str, frozenset[int]]
# A row of the model: (column, coefficient) pairs that add up to at least so much.
Row = tuple[list[tuple[int, float]], float]


def estate(rng: Random) -> Opens:
    opens = {
        f"M{size}-{start // size}": frozenset(range(start, min(DOORS, start + size)))
        for size in (16, 256, 4096)
        for start in range(0, DOORS, size)
    }
    for number in range(20_000):
        start = rng.randrange(DOORS - 256)
        opens[f"S{number}"] = frozenset(rng.sample(range(start, start + 256), rng.randint(2, 39)))
    return opens


def run(report: Report) -> None:
    rng = drawn()
    opens = estate(rng)
    choose_keys({"K": ["D"]}, ["D"], search_steps=0)  # the solver's library is loaded once
    report.note(f"{DOORS:,} doors, {len(opens):,} keys, {sum(map(len, opens.values())):,} pairs that open")
    asked = []
    for count, window, wanted in ((20, 256, 3.0), (40, 1024, 10.0)):
        start = rng.randrange(DOORS - window)
        asked.append(rng.sample(range(start, start + window), count))
        _compare(report, opens, asked[-1], wanted)
    opens |= {f"C{door}": frozenset([door]) for door in range(DOORS)}
    report.note(f"with a key for each door: {len(opens):,} keys, {sum(map(len, opens.values())):,} pairs")
    for needed in asked[: sized(2, 1)]:
        _fronts(report, opens, needed)


def _compare(report: Report, opens: Opens, needed: list[int], wanted: float) -> None:
    begun = time.process_time()
    cover = reduce_cover(opens, needed)
    reduced_s = time.process_time() - begun
    begun = time.process_time()
    preview = preview_keys(opens, needed)
    preview_s = time.process_time() - begun
    report.note(
        f"{len(needed)} needed: {len(cover.keys)} keys, {len(cover.openers)} doors, {len(cover.weights)} "
        f"groups left after {reduced_s * 1e3:.0f} ms; "
        f"preview of {len(preview)} entries in {preview_s * 1e3:.0f} ms"
    )
    quick = min(each.extra for each in preview)
    _fewest_extra(report, cover, len(needed), wanted, quick)
    _whole_front(report, opens, needed)


def _fewest_extra(report: Report, cover: Cover[str], count: int, wanted: float, quick: int) -> None:
    begun = time.process_time()
    solving = _Solving(cover, len(cover.openers), time.monotonic() + LIMIT_S)
    chosen, is_proven = solving._best(len(cover.openers), preview_front(cover, len(cover.openers)))
    ours_s = time.process_time() - begun
    if chosen is None:
        raise AssertionError
    extra = solving._cost(chosen) // (len(cover.keys) + 1)
    report.at_most(f"extra doors, {count} needed, chosen : quick preview", extra, quick, "doors")
    for name, rows in (("key by key", _by_key(cover)), ("door by door", _by_door(cover))):
        begun = time.process_time()
        cost, is_done = _milp(cover, rows)
        theirs_s = time.process_time() - begun
        if is_done and is_proven and cost != solving._cost(chosen):
            raise AssertionError((cost, solving._cost(chosen)))
        remark = _proven(is_proven, is_done)
        title = f"fewest extra doors, {count} needed, HiGHS {name}"
        report.ratio(title, ours_s, theirs_s, wanted, f"{len(chosen)} keys; {remark}")


def _proven(ours: bool, theirs: bool) -> str:
    """No time fails a run: what a busy machine did not let end says which way the ratio is a bound."""
    if ours and theirs:
        return "equal, both proven"
    if ours:
        return f"stopped after {LIMIT_S:g} s by the clock, not proven: the ratio is the least it can be"
    return f"ours stopped after {LIMIT_S:g} s by the clock, not proven: the ratio is the most it can be"


def _whole_front(report: Report, opens: Opens, needed: list[int]) -> None:
    begun = time.perf_counter()
    front = choose_keys(opens, needed, limit_s=FRONT_LIMIT_S)
    listed = ", ".join(f"{len(each.keys)}/{each.extra}{'' if each.is_proven else '?'}" for each in front)
    report.note(f"whole front (keys/extra, ? not proven): {listed} in {time.perf_counter() - begun:.1f} s")


def _fronts(report: Report, opens: Opens, needed: list[int]) -> None:
    """Every entry proven by both: with fewer keys than the entry before, until no set is left."""
    cover = reduce_cover(opens, needed)
    begun = time.process_time()
    front, proven = _Solving(cover, len(cover.openers), time.monotonic() + LIMIT_S).front()
    ours_s = time.process_time() - begun
    is_proven = proven == set(front)
    begun = time.process_time()
    theirs, is_done = _milp_front(cover)
    theirs_s = time.process_time() - begun
    if is_proven and is_done and theirs != {number: extra for number, (extra, _) in front.items()}:
        raise AssertionError((theirs, front))
    title = f"whole front, {len(needed)} needed, HiGHS key by key"
    remark = f"{len(front)} entries; {_proven(is_proven, is_done)}"
    report.ratio(title, ours_s, theirs_s, 3.0, remark)


def _milp_front(cover: Cover[str]) -> tuple[dict[int, int], bool]:
    """Extra doors by number of keys, from the fewest extra doors on; and whether none is missing."""
    rows, found, most = _by_key(cover), dict[int, int](), len(cover.openers)
    while most:
        few: Row = ([(key, -1.0) for key in range(len(cover.keys))], -float(most))
        cost, is_done, is_impossible = _solved(cover, [*rows, few])
        if not is_done:
            return found, is_impossible
        extra, number = divmod(cost, len(cover.keys) + 1)
        found[number], most = extra, number - 1
    return found, True


def _by_key(cover: Cover[str]) -> list[Row]:
    """What one writes first: a group is added if any of its keys is used."""
    size = len(cover.keys)
    rows: list[Row] = [([(key, 1.0) for key in keys], 1.0) for keys in cover.openers]
    for key, groups in enumerate(cover.adds):
        rows += [([(size + group, 1.0), (key, -1.0)], 0.0) for group in bits_of(groups)]
    return rows


def _by_door(cover: Cover[str]) -> list[Row]:
    """The stronger model that the product's own solver gets: a key is told off for each door."""
    first = len(cover.keys) + len(cover.weights)
    rows = _by_key(cover)
    for keys in cover.openers:
        told = {key: first + place for place, key in enumerate(keys)}
        first += len(told)
        rows.append(([(column, 1.0) for column in told.values()], 1.0))
        rows += [([(key, 1.0), (column, -1.0)], 0.0) for key, column in told.items()]
        groups = {group for key in keys for group in bits_of(cover.adds[key])}
        for group in groups:
            brought = [(told[key], -1.0) for key in keys if cover.adds[key] >> group & 1]
            rows.append(([(len(cover.keys) + group, 1.0), *brought], 0.0))
    return rows


def _milp(cover: Cover[str], rows: list[Row]) -> tuple[int, bool]:
    cost, is_done, _ = _solved(cover, rows)
    return cost, is_done


def _solved(cover: Cover[str], rows: list[Row]) -> tuple[int, bool, bool]:
    """What it costs, whether that is proven the least, and whether it is proven that there is nothing."""
    places = [(row, column, value) for row, (pairs, _) in enumerate(rows) for column, value in pairs]
    size = 1 + max(column for _, column, _ in places)
    at, columns, values = zip(*places, strict=True)
    matrix = coo_array((values, (at, columns)), shape=(len(rows), size)).tocsr()
    costs = np.zeros(size)
    costs[: len(cover.keys)] = 1
    costs[len(cover.keys) : len(cover.keys) + len(cover.weights)] = np.array(cover.weights) * (
        len(cover.keys) + 1
    )
    least = np.array([least for _, least in rows])
    kinds = np.zeros(size)
    kinds[: len(cover.keys)] = 1
    solved = milp(
        costs,
        constraints=LinearConstraint(matrix, least, np.inf),
        integrality=kinds,
        bounds=Bounds(0, 1),
        options={"time_limit": LIMIT_S, "mip_rel_gap": 0.0},
    )
    return (0 if solved.fun is None else round(solved.fun)), solved.status == 0, solved.status == 2
