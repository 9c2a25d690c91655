"""Running one topic; a module of its own, since a new process cannot import from `__main__` of a package."""

import importlib

from tests.bench.report import Report, peak_memory_mib


def run_topic(topic: str) -> None:
    """In a process of its own, so that one topic's memory is not counted against the next."""
    report = Report()
    report.note(f"\n== {topic}")
    importlib.import_module(f"tests.bench.bench_{topic}").run(report)
    report.note(f"peak memory of this topic: {peak_memory_mib():,.0f} MiB")
