"""The memory of every process over time: sampled from outside, and how steeply it climbs."""

import threading
import time
from collections import defaultdict
from collections.abc import Callable
from pathlib import Path

from tests.load.measures import settled, slope

EVERY_S = 2.0
Samples = dict[tuple[str, int], list[tuple[float, float]]]


class Watch(threading.Thread):
    """Whole resident memory in MiB by name and process; one that is started anew begins a line of its own."""

    def __init__(self, processes: Callable[[], dict[str, int]]) -> None:
        super().__init__(daemon=True)
        self._processes, self._over = processes, threading.Event()
        self.samples: Samples = defaultdict(list)

    def run(self) -> None:
        began = time.monotonic()
        while not self._over.wait(EVERY_S):
            for name, pid in self._processes().items():
                if size := resident_mib(pid):
                    self.samples[name, pid].append((time.monotonic() - began, size))

    def end(self) -> None:
        self._over.set()
        self.join()

    def climbs(self) -> dict[str, tuple[float, float]]:
        """MiB a minute over the last two thirds, and the most there was; of the longest line of each name."""
        longest: dict[str, list[tuple[float, float]]] = {}
        for (name, _pid), line in self.samples.items():
            if len(line) > len(longest.get(name, [])):
                longest[name] = line
        return {
            name: (slope(settled(line)) * 60, max(size for _, size in line)) for name, line in longest.items()
        }


def resident_mib(pid: int) -> float:
    """0 for a process that is gone."""
    try:
        text = Path(f"/proc/{pid}/status").read_text()
    except OSError:
        return 0.0
    line = next((each for each in text.splitlines() if each.startswith("VmRSS:")), "VmRSS: 0 kB")
    return int(line.split()[1]) / 1024
