"""``python -m tests.paper [part ...]``: the figures behind "On to two million doors", part by part.

The parts ``estate`` needs a PostgreSQL server: run it by ``bash .ci/postgres``. The others start one of
their own that waits for the disk, or need none. ``--keep`` renews the record in
``fixtures/measurements``.
"""

import argparse
import importlib
import os
import sys
import time

from tests.bench.record import keep
from tests.bench.report import Report

PARTS = ("estate", "chain", "replica", "queue", "proof", "files")
MODULES = {
    "estate": "whole",
    "chain": "chains",
    "replica": "replicas",
    "queue": "claims",
    "proof": "proofs",
    "files": "files",
}


def main(words: list[str]) -> int:
    parser = argparse.ArgumentParser(prog="python -m tests.paper", description=__doc__)
    parser.add_argument("parts", nargs="*", default=PARTS, choices=PARTS)
    parser.add_argument("--doors", type=int, default=2_000_000, help="the largest size that is filled")
    parser.add_argument("--keep", action="store_true", help="renew the committed record")
    asked = parser.parse_args(words)
    os.environ["DJANGO_SETTINGS_MODULE"] = "tests.settings"
    for part in asked.parts:
        print(f"\n== {part}", flush=True)  # noqa: T201
        report, began = Report(), time.perf_counter()
        importlib.import_module(f"tests.paper.{MODULES[part]}").run(report, asked.doors)
        if asked.keep:
            keep(f"paper-{part}", report, seconds=time.perf_counter() - began)
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
