"""What the simulation tells goes into the benchmarks' report, as figures that nothing is wanted of."""

import time
from collections.abc import Iterator
from contextlib import contextmanager

from tests.bench.report import Line, Report


def tell(report: Report, name: str, value: float, unit: str, remark: str = "") -> None:
    # NumPy's numbers are no JSON.
    value = float(value)
    report.add(Line(name, "at most", value, value, wanted=0, unit=unit, remark=remark))


@contextmanager
def timed(report: Report, name: str, remark: str = "") -> Iterator[None]:
    began = time.perf_counter()
    yield
    tell(report, name, time.perf_counter() - began, "s", remark)
