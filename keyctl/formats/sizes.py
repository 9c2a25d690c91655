"""Whole numbers as a shop writes them: '2-19', '0-9, 11', and a driver table with one row per line."""

import re
from collections.abc import Iterable, Mapping, Sequence

from django.utils.translation import gettext as _

LARGEST = 999
DASH = re.compile(r"\s*[-–]\s*")
BETWEEN = re.compile(r"[\s,;]+")
RUN = re.compile(r"(\d{1,4})(?:-(\d{1,4}))?")
ROW = re.compile(r"(\d{1,4})(?:-(\d{1,4}))?\s*[:=]\s*(\d{1,4})")

Driver = Mapping[str, int]


class Unreadable(ValueError):
    """The text is no list of sizes; the message names the part and says how it is written."""


def parse_sizes(text: str) -> list[int]:
    """'2-5, 9' is 2, 3, 4, 5 and 9."""
    parts = BETWEEN.split(DASH.sub("-", text.strip()))
    return sorted({size for part in parts if part for size in _run(part)})


def sizes_text(sizes: Iterable[int]) -> str:
    """2, 3, 4, 5 and 9 are '2-5, 9'."""
    runs: list[list[int]] = []
    for size in sorted(set(sizes)):
        if runs and size == runs[-1][-1] + 1:
            runs[-1].append(size)
        else:
            runs.append([size])
    return ", ".join(_run_text(run[0], run[-1]) for run in runs)


def parse_drivers(text: str) -> list[Driver]:
    """'0-3: 1' is driver 1 for the plug totals 0 to 3. The engine judges whether the rows fit together."""
    lines = enumerate(text.splitlines(), 1)
    return [_row(DASH.sub("-", line.strip()), number) for number, line in lines if line.strip()]


def drivers_text(rows: Sequence[Driver]) -> str:
    return "\n".join(f"{_run_text(row['from'], row['to'])}: {row['pin']}" for row in rows)


def _run(part: str) -> range:
    found = RUN.fullmatch(part)
    if not found:
        raise Unreadable(_("‘{part}’ is no size; write sizes like 2-19 or 0, 2, 4-9.").format(part=part[:20]))
    low, high = int(found[1]), int(found[2] or found[1])
    if low > high or high > LARGEST:
        raise Unreadable(
            _("‘{part}’ is no range; write the smaller size first, up to {largest}.").format(
                part=part[:20], largest=LARGEST
            )
        )
    return range(low, high + 1)


def _run_text(low: int, high: int) -> str:
    return f"{low}-{high}" if high > low else str(low)


def _row(line: str, number: int) -> Driver:
    found = ROW.fullmatch(line)
    if not found:
        raise Unreadable(
            _("Line {number}, ‘{line}’: write plug totals and driver like 0-3: 1.").format(
                number=number, line=line[:20]
            )
        )
    return {"from": int(found[1]), "to": int(found[2] or found[1]), "pin": int(found[3])}
