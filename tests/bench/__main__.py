"""``python -m tests.bench [topic ...]``: every topic is a module bench_<topic> with ``run(report)``."""

import multiprocessing
import platform
import sys
from pathlib import Path

from tests.bench.running import run_topic

HERE = Path(__file__).parent


def topics() -> list[str]:
    return sorted(file.stem.removeprefix("bench_") for file in HERE.glob("bench_*.py"))


def main(asked: list[str]) -> int:
    unknown = sorted(set(asked) - set(topics()))
    if unknown:
        print(f"no topic {', '.join(unknown)}; there are {', '.join(topics())}", file=sys.stderr)  # noqa: T201
        return 2
    machine = f"{platform.machine()}, Python {platform.python_version()}, {multiprocessing.cpu_count()} cores"
    print(f"{machine}; columns: ours, the other way, their ratio")  # noqa: T201
    failed = 0
    for topic in asked or topics():
        process = multiprocessing.get_context("spawn").Process(target=run_topic, args=(topic,))
        process.start()
        process.join()
        failed |= process.exitcode or 0
    return failed


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
