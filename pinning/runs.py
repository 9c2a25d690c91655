"""Runs of numbers that lie one after another in one array, each as long as it wants to be.

>>> import numpy as np
>>> ends = running(np.array([2, 0, 3]))
>>> ends.tolist()
[0, 2, 2, 5]
>>> spread(np.array([7, 8, 9], np.int32), ends).tolist()
[7, 7, 9, 9, 9]
>>> ranges(np.array([10, 20, 30], np.int32), ends).tolist()
[10, 11, 30, 31, 32]
"""

import numpy as np
from numpy.typing import NDArray

__all__ = ["Index", "Ints", "ranges", "running", "spread"]

Ints = NDArray[np.int32]
Index = NDArray[np.intp]


def running(widths: NDArray[np.integer] | NDArray[np.bool_]) -> Index:
    """Where each run begins, and the end of the last: one number more than there are runs."""
    ends = np.zeros(len(widths) + 1, np.intp)
    np.cumsum(widths, dtype=np.intp, out=ends[1:])
    return ends


def spread(values: Ints, ends: Index) -> Ints:
    """Each value as often as its run is long. A sum of steps: quicker than to repeat each by itself."""
    filled = np.flatnonzero(ends[1:] > ends[:-1])
    steps = np.zeros(ends[-1], np.int32)
    if len(filled):
        shown = values[filled]
        steps[ends[filled]] = np.diff(shown, prepend=np.int32(0))
    return np.cumsum(steps, dtype=np.int32, out=steps)


def ranges(begins: NDArray[np.integer], ends: Index) -> Ints:
    """Each run counts up from its beginning."""
    filled = np.flatnonzero(ends[1:] > ends[:-1])
    steps = np.ones(ends[-1], np.int32)
    if len(filled):
        first, starts = begins[filled], ends[filled]
        steps[starts] = first
        steps[starts[1:]] -= first[:-1] + np.diff(starts) - 1
    return np.cumsum(steps, dtype=np.int32, out=steps)
