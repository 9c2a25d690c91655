"""``python -m tests.bench.running TOPIC FILE``: the process of one topic, which leaves its lines there."""

import importlib
import sys
import time
from pathlib import Path

from tests.bench.record import measured
from tests.bench.report import Report


def main(topic: str, file: Path) -> None:
    report, began = Report(), time.perf_counter()
    importlib.import_module(f"tests.bench.bench_{topic.partition('@')[0]}").run(report)
    found = measured(topic, report, time.perf_counter() - began)
    print(f"{found.seconds:,.0f} s; peak memory of this topic: {found.peak_mib:,.0f} MiB")  # noqa: T201
    # Whole or not at all: a run that is broken off goes on by what stands here.
    file.with_suffix(".part").write_text(found.as_text(), encoding="utf-8")
    file.with_suffix(".part").replace(file)


if __name__ == "__main__":
    main(sys.argv[1], Path(sys.argv[2]))
