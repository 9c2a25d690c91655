"""What the main tasks take: each act is counted, and the table ``fixtures/acts.csv`` is held true here.

``KEYCTL_WRITE_ACTS=1`` writes it anew. By keyboard the same tasks are a walk without any pointer: at each
stop the focus is in sight, nothing covers it, it looks other than without (WCAG 2.2: 2.4.3, 2.4.7, 2.4.11),
it goes in the order of the page, and no piece that is replaced takes it along (2.1.2).
"""

import csv
import os
from collections.abc import Callable
from itertools import groupby
from pathlib import Path

import pytest

from tests.browser.acts import Fingers, Keyboard
from tests.browser.conftest import Tablet
from tests.browser.tasks import TASKS, Hands, Task

TABLE = Path(__file__).parents[2] / "fixtures/acts.csv"
HEAD = ["task", "begins at", "way", "acts", "at most", "what", "moves of the focus, at most"]
ACTS, AT_MOST, MOVES = 3, 4, 6


def read_table() -> list[list[str]]:
    with TABLE.open(newline="") as file:
        return list(csv.reader(file))


def in_words(acts: list[str]) -> str:
    """Like acts in a row are told together: "4 scan, 1 tap"."""
    return ", ".join(f"{len(list(same))} {act}" for act, same in groupby(acts))


def row_of(task: Task, hands: Hands) -> list[str]:
    return [
        task.name,
        task.begins,
        hands.way,
        str(hands.count),
        str(task.at_most),
        in_words(hands.acts),
        str(hands.moves),
    ]


def write(rows: list[list[str]]) -> None:
    kept = [row for row in read_table()[1:] if row[2] != rows[0][2]] if TABLE.exists() else []
    names = [task.name for task in TASKS]
    with TABLE.open("w", newline="") as file:
        table = csv.writer(file, lineterminator="\n")
        table.writerow(HEAD)
        ordered = sorted(kept + rows, key=lambda row: (names.index(row[0]), row[2]))
        table.writerows(ordered)


def walk(kind: type[Hands], open_tablet: Callable[..., Tablet]) -> list[list[str]]:
    tablets: dict[str, Tablet] = {}
    rows, faults = [], []
    for task in TASKS:
        if task.person not in tablets:
            tablets[task.person] = open_tablet(has_touch=kind is Fingers)
            tablets[task.person].page.add_init_script(kind.LISTEN)
            tablets[task.person].sign_in(task.person)
        tablet = tablets[task.person]
        tablet.go(task.begin())
        tablet.page.evaluate("sessionStorage.clear()")
        hands = kind(tablet.page)
        task.do(hands)
        hands.check()
        rows.append(row_of(task, hands))
        faults += [f"{task.name}: {fault}" for fault in getattr(hands, "faults", [])]
    assert list(dict.fromkeys(faults)) == []
    assert [tablet.complaints for tablet in tablets.values()] == [[] for _ in tablets]
    return rows


@pytest.mark.parametrize("kind", [Fingers, Keyboard], ids=["touch", "keyboard"])
def test_what_the_main_tasks_take(
    estate: None, open_tablet: Callable[..., Tablet], kind: type[Hands]
) -> None:
    rows = walk(kind, open_tablet)
    if os.environ.get("KEYCTL_WRITE_ACTS"):
        write(rows)
    written = [row for row in read_table()[1:] if row[2] == kind.way]
    assert [row[:MOVES] for row in rows] == [row[:MOVES] for row in written]
    assert [row for row in rows if int(row[ACTS]) > int(row[AT_MOST])] == []
    # A link more on a page is one more stop; many more ought to be seen.
    longer = [row for row, known in zip(rows, written, strict=True) if int(row[MOVES]) > int(known[MOVES])]
    assert longer == []
