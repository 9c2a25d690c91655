"""The audit of an estate: every key against every core, one key, one changed core; against plain NumPy.

The other way is column-wise: key by key and position by position one comparison with all cores, ANDed, in the
narrowest columns that hold the sets, which stay in the cache. It works on the same estate, and its answers
are compared with ours.
"""

import time

import numpy as np
from numpy.typing import NDArray

from pinning.bitrows import CoreRows, KeyRows
from pinning.joins import Pairs, join
from pinning.tries import BoxTrie, KeyTrie
from tests.bench.estate import DEPTHS, Boxes, ReferenceEstate, reference_estate
from tests.bench.report import MOST_MIB, Report, best_of, peak_memory_mib, sized

MANY = sized(100_000, 10_000)
MILLION = sized(1_000_000, 50_000)
SLICE = 500
PIECES = 10
PACKED_BYTES = MANY * MANY // 8


def run(report: Report) -> None:
    estate = reference_estate(MANY, MANY)
    found = _whole(report, estate)
    _packed_answer(report, estate)
    _changed_core(report, estate, found)
    _one_key(report)
    _largest(report)
    report.at_most(
        "peak memory of all audits, with what they are set beside", peak_memory_mib(), MOST_MIB, "MiB"
    )


def _audit(estate: ReferenceEstate) -> Pairs:
    """With everything that has to be built for it."""
    return join(KeyTrie(estate.keys, DEPTHS), BoxTrie(estate.boxes, DEPTHS))


def _columns(boxes: Boxes) -> list[NDArray[np.uint16]]:
    """Ten depths need no more than 16 bits: the narrowest columns are the quickest to read."""
    return [np.ascontiguousarray(column.astype(np.uint16)) for column in boxes.T]


def _scanned(columns: list[NDArray[np.uint16]], key: list[int]) -> NDArray[np.intp]:
    fits = (columns[0] & np.uint16(1 << key[0])) != 0
    for column, cut in zip(columns[1:], key[1:], strict=True):
        fits &= (column & np.uint16(1 << cut)) != 0
    return np.flatnonzero(fits)


def _whole(report: Report, estate: ReferenceEstate) -> Pairs:
    columns, sample = _columns(estate.boxes), np.linspace(0, MANY - 1, SLICE).astype(int).tolist()
    keys = estate.keys[sample].tolist()
    theirs, scanned = best_of(3, lambda: [_scanned(columns, key) for key in keys])
    ours, found = best_of(7, lambda: _audit(estate))
    turned, by_key = best_of(5, lambda: found.by_key(MANY))
    begins = np.concatenate([[0], np.cumsum(by_key.counts)])
    for key, cores in zip(sample, scanned, strict=True):
        assert by_key.cores[begins[key] : begins[key + 1]].tolist() == cores.tolist()
    remark = f"{len(found):,} pairs; the other way: {SLICE} keys timed and scaled up to all"
    name = "audit 100k x 100k, with both tries: column-wise"
    report.ratio(name, ours, theirs * MANY / SLICE, 100, remark)
    name = "  the same, then sorted by key with counts per key"
    report.ratio(name, ours + turned, theirs * MANY / SLICE, 100)
    return found


def _packed_answer(report: Report, estate: ReferenceEstate) -> None:
    """The same answer as one bit per pair is 1.25 GB; only to copy it takes this long."""
    piece = np.ones(PACKED_BYTES // PIECES, np.uint8)
    room = np.empty_like(piece)

    def copy() -> None:
        for _ in range(PIECES):
            room[:] = piece

    theirs, _ = best_of(5, copy)
    ours, _ = best_of(7, lambda: _audit(estate))
    remark = f"copied as {PIECES} pieces of 125 MB, for the memory's sake"
    report.ratio("audit 100k x 100k: copying the packed answer, 1.25 GB", ours, theirs, 1, remark)


def _changed_core(report: Report, estate: ReferenceEstate, found: Pairs) -> None:
    rows, cores = KeyRows(estate.keys, DEPTHS), estate.boxes[:200].tolist()
    begins = np.concatenate([[0], np.cumsum(found.counts)])
    for core, box in enumerate(cores):
        expected = np.sort(found.keys[begins[core] : begins[core + 1]])
        assert rows.keys_of(box).tolist() == expected.tolist()
    ours, _ = best_of(5, lambda: [rows.keys_of(box) for box in cores])
    theirs, _ = best_of(5, lambda: _audit(estate))
    report.ratio("one changed core: the full audit", ours / len(cores), theirs, 500, "100k keys, mean of 200")


def _one_key(report: Report) -> None:
    estate = reference_estate(MANY, MILLION)
    columns, rows = _columns(estate.boxes), CoreRows(estate.boxes, DEPTHS)
    keys = estate.keys[-100:].tolist()
    assert all(rows.cores_of(key).tolist() == _scanned(columns, key).tolist() for key in keys[:20])
    theirs, _ = best_of(3, lambda: [_scanned(columns, key) for key in keys[:20]])
    ours, _ = best_of(20, lambda: [rows.cores_of(key) for key in keys])
    remark = "mean of 100 change keys; the other way on the first 20"
    report.ratio("one key, 1M cores: column-wise", ours / len(keys), theirs / 20, 100, remark)
    wide = [column.astype(np.uint64) for column in columns]
    theirs, _ = best_of(3, lambda: [_scanned_plainly(wide, key) for key in keys[:20]])
    report.ratio("one key, 1M cores: column-wise on 64-bit sets", ours / len(keys), theirs / 20, 100)


def _scanned_plainly(columns: list[NDArray[np.uint64]], key: list[int]) -> NDArray[np.intp]:
    fits = (columns[0] & np.uint64(1 << key[0])) != 0
    for column, cut in zip(columns[1:], key[1:], strict=True):
        fits &= (column & np.uint64(1 << cut)) != 0
    return np.flatnonzero(fits)


def _largest(report: Report) -> None:
    estate = reference_estate(MILLION, MILLION)
    begun = time.perf_counter()
    found = _audit(estate)
    seconds = time.perf_counter() - begun
    report.note(f"audit 1M x 1M, with both tries, in one keyway: {seconds:.2f} s, {len(found):,} pairs")
