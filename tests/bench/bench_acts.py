"""What the main tasks ask of a hand: the acts that the browser's own events counted, beside what was wanted.

`tests/browser/test_acts.py` counts, and holds `fixtures/acts.csv` against the pages in each run of CI.
"""

import csv
from pathlib import Path

from tests.bench.report import Report

ACTS = Path(__file__).parents[2] / "fixtures" / "acts.csv"


def run(report: Report) -> None:
    with ACTS.open(newline="", encoding="utf-8") as file:
        for row in csv.DictReader(file):
            name = f"{row['task']}, {row['way']}"
            report.at_most(name, int(row["acts"]), int(row["at most"]), "acts", row["what"])
