"""``python -m tests.faults kill|power``: as often as asked, on a database of one's choice."""

import argparse
import sys
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

from tests.faults.killing import KillLoop
from tests.faults.nursery import SYNCHRONOUS
from tests.faults.postgresql import cluster
from tests.faults.power import built_shim, lose_power
from tests.faults.serving import Ground, folder_on_disk

# The database server goes down with the web server at every such kill.
DATABASE_EVERY = 5
TELL_EVERY = 50


def main(words: list[str]) -> int:
    parser = argparse.ArgumentParser(prog="python -m tests.faults", description=__doc__)
    parser.add_argument("fault", choices=["kill", "power"])
    parser.add_argument("--times", type=int, default=200)
    parser.add_argument("--database", choices=["sqlite", "postgresql"], default="sqlite")
    # What is lost without waiting for the disk shows that the loss is seen.
    parser.add_argument("--synchronous", choices=["FULL", "NORMAL"], default="FULL")
    parser.add_argument("--seed", type=int, default=int(time.time()))
    asked = parser.parse_args(words)
    print(f"seed {asked.seed}", flush=True)  # noqa: T201
    ground_of = {"kill": _ground, "power": _without_power}[asked.fault]
    chosen = asked.synchronous if asked.fault == "power" else asked.database
    with folder_on_disk() as folder, ground_of(folder, chosen) as (ground, on_kill):
        kill(ground, asked.seed, asked.times, on_kill)
    return 0


def kill(ground: Ground, seed: int, times: int, on_kill: Callable[[int], None]) -> None:
    began = time.perf_counter()
    loop = KillLoop(ground, seed, migrated=True)

    def told(nth: int) -> None:
        on_kill(nth)
        if nth % TELL_EVERY == 0:
            print(f"{nth} kills after {time.perf_counter() - began:.0f} s", flush=True)  # noqa: T201

    print(f"{loop.durability}: {loop.run(times, told)}")  # noqa: T201


@contextmanager
def _ground(folder: Path, database: str) -> Iterator[tuple[Ground, Callable[[int], None]]]:
    if database == "sqlite":
        with Ground(folder) as ground:
            yield ground, lambda _nth: None
        return
    with cluster(folder / "postgresql") as server, Ground(folder, server.url) as ground:

        def on_kill(nth: int) -> None:
            if nth % DATABASE_EVERY == 0:
                server.die()
                server.start()

        yield ground, on_kill


@contextmanager
def _without_power(folder: Path, synchronous: str) -> Iterator[tuple[Ground, Callable[[int], None]]]:
    shim = built_shim(folder)
    with Ground(folder, LD_PRELOAD=str(shim), **{SYNCHRONOUS: synchronous}) as ground:
        yield ground, lambda _nth: lose_power(ground)


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
