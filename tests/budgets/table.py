"""The budget of each address that reads: how many queries, by whom it is asked. ``fixtures/queries.csv``."""

import csv
from collections.abc import Iterable
from pathlib import Path

from tests.budgets.asking import Asked

FILE = Path(__file__).resolve().parents[2] / "fixtures/queries.csv"
HEADS = ("route", "role", "queries")


def budgets() -> dict[str, tuple[str, int]]:
    with FILE.open(newline="") as lines:
        return {row["route"]: (row["role"], int(row["queries"])) for row in csv.DictReader(lines)}


def write(asked: Iterable[Asked]) -> None:
    with FILE.open("w", newline="") as file:
        writer = csv.writer(file, lineterminator="\n")
        writer.writerow(HEADS)
        writer.writerows((each.route, each.who, len(each.read)) for each in asked)
