"""The reference estate of the benchmarks, as arrays: systems by total position progression from a seed.

Seven positions, ten depths, two-step progression (one parity per position), four levels: a great grand
master, grand masters on positions 1 and 2, masters on 3 and 4, changes on 5 to 7: 16 x 16 x 64 = 16,384
changes. A core takes its change key and the three masters above it; one core in twenty takes a second change
key of its system and that one's masters too. All systems share one keyway, the hardest case for an audit.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from tests.bench.report import SEED

POSITIONS = 7
DEPTHS = 10
CHANGES = 4**POSITIONS
GROUPS = ((0, 1), (2, 3), (4, 5, 6))
CROSS_KEYED = 0.05

Cuts = NDArray[np.uint8]
Boxes = NDArray[np.uint64]


@dataclass(frozen=True)
class ReferenceEstate:
    """`keys`: cuts, (keys, 7). `boxes`: bit d of [core, position] is set where depth d turns, (cores, 7)."""

    keys: Cuts
    boxes: Boxes


def reference_estate(keys: int, cores: int, seed: int = 3 + SEED) -> ReferenceEstate:
    """So many keys, masters first and then changes, and cores keyed to changes in a random order."""
    rng = np.random.default_rng(seed)
    systems = [_system(rng) for _ in range(-(-max(keys, cores) // CHANGES))]
    masters = np.concatenate([_masters(array) for array in systems])
    changes = np.concatenate([_changes(array) for array in systems])
    order = rng.permutation(len(changes))
    cut = np.concatenate([masters, changes[order]])[:keys]
    boxes = np.concatenate([_boxes(array, rng) for array in systems])
    return ReferenceEstate(np.ascontiguousarray(cut), np.ascontiguousarray(boxes[order][:cores]))


def _system(rng: np.random.Generator) -> Cuts:
    """(7, 5): per position the top master's cut, then the four others of its parity, shuffled."""
    rows = [rng.permutation(np.arange(int(rng.integers(2)), DEPTHS, 2)) for _ in range(POSITIONS)]
    return np.array(rows, dtype=np.uint8)


def _digits() -> NDArray[np.intp]:
    """(16384, 7): which of the four depths each change has, counting from the last position."""
    return np.stack(np.unravel_index(np.arange(CHANGES), (4,) * POSITIONS), axis=1) + 1


def _changes(array: Cuts) -> Cuts:
    return array[np.arange(POSITIONS), _digits()]


def _masters(array: Cuts) -> Cuts:
    """The top, the 16 below it and the 256 below those: the positions still to be dealt are the top's."""
    held, rows = _digits(), []
    for level in range(len(GROUPS)):
        own = [place for group in GROUPS[:level] for place in group]
        shown = np.zeros_like(held)
        shown[:, own] = held[:, own]
        rows.append(np.unique(shown, axis=0))
    return array[np.arange(POSITIONS), np.concatenate(rows)]


def _boxes(array: Cuts, rng: np.random.Generator) -> Boxes:
    """Every core lets in the top master's cut and its change's, and a cross-keyed one another change's."""
    bits = np.uint64(1) << _changes(array).astype(np.uint64)
    boxes = bits | (np.uint64(1) << array[:, 0].astype(np.uint64))
    crossed = np.flatnonzero(rng.random(CHANGES) < CROSS_KEYED)
    boxes[crossed] |= bits[rng.integers(CHANGES, size=len(crossed))]
    return boxes
