"""The report as a small drawing: each figure a row, each of its lines a mark at its share of what was wanted.

A disc is met, an open diamond is not: no colour tells anything alone. The same stands in words in the table.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from html import escape
from math import log10
from pathlib import Path
from textwrap import wrap

from tests.bench.record import Measured
from tests.bench.table import Found, by_theme, value

WIDTH, LEFT, RIGHT, TOP, LINE, GAP = 980, 430, 780, 64, 15, 9
# Shares of what was wanted; what lies beyond stands at the edge.
LEAST, MOST = 0.1, 100.0
MARKS = (0.1, 0.3, 1, 3, 10, 30, 100)
SIGNS = 66
STYLE = """
text { font: 12px system-ui, sans-serif; fill: #1c2026 }
.theme { font-weight: 700 }
.small { font-size: 11px; fill: #4a515c }
.sheet { fill: #fff }
.grid { stroke: #d5d9df }
.just { stroke: #1c2026; stroke-width: 1.5 }
.met { fill: #1f5f8b; fill-opacity: .75; stroke: #fff; stroke-width: .75 }
.unmet { fill: #fff; stroke: #9c2f12; stroke-width: 2 }
""".strip()


@dataclass(frozen=True)
class Row:
    """A heading, or a figure with marks; ``top`` is where it begins."""

    top: int
    words: tuple[str, ...]
    found: Found | None = None

    @property
    def bottom(self) -> int:
        return self.top + LINE * len(self.words) + GAP


def draw(measured: Mapping[str, Measured], file: Path) -> None:
    file.write_text(as_svg(measured), encoding="utf-8")


def as_svg(measured: Mapping[str, Measured]) -> str:
    rows = list(_rows(measured))
    height = (rows[-1].bottom if rows else TOP) + 12
    lines = [
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {WIDTH} {height}" role="img" '
        f'aria-labelledby="name meaning" lang="en">',
        '<title id="name">Every figure as a share of what was wanted</title>',
        f'<desc id="meaning">{escape(_in_words(rows))}</desc>',
        f"<style>{STYLE}</style>",
        f'<rect class="sheet" width="{WIDTH}" height="{height}"/>',
        *_axis(height),
        *(line for row in rows for line in _drawn(row)),
        "</svg>",
    ]
    return "\n".join(lines) + "\n"


def _rows(measured: Mapping[str, Measured]) -> Iterator[Row]:
    top = TOP
    for theme, entries in by_theme(measured).items():
        shown = [found for found in entries if found.wanted]
        if not shown:
            continue
        heading = Row(top + GAP, (theme,))
        yield heading
        top = heading.bottom
        for found in shown:
            row = Row(top, tuple(wrap(found.entry.title.replace("`", ""), SIGNS)), found)
            yield row
            top = row.bottom


def _in_words(rows: list[Row]) -> str:
    found = [row.found for row in rows if row.found]
    met = sum(each.is_met for each in found)
    return (
        f"{met} of {len(found)} measured figures are met in every line. A row is a figure, a mark one of its "
        "lines; to the right of the upright line it is met. The table beside this drawing has each in words."
    )


def x(share: float) -> float:
    kept = min(max(share, LEAST), MOST)
    return round(LEFT + log10(kept / LEAST) / log10(MOST / LEAST) * (RIGHT - LEFT), 1)


def _axis(height: int) -> Iterator[str]:
    yield from (
        _text(x(0.25), 18, "not met", "small", "middle"),
        _text(x(1), 18, "as wanted", "small", "middle"),
        _text(RIGHT, 18, "so many times better", "small", "end"),
        _text(RIGHT + 20, 18, "measured, of what was wanted", "small"),
        f'<circle class="met" cx="16" cy="14" r="5"/>{_text(26, 18, "met", "small")}',
        f"{_diamond(70, 14)}{_text(82, 18, 'not met; the reason is in the table', 'small')}",
    )
    for share in MARKS:
        line = "just" if share == 1 else "grid"
        yield f'<path class="{line}" d="M{x(share)} 44V{height - 8}"/>'
        yield _text(x(share), 36, f"{share:g}x", "small", "middle")


def _drawn(row: Row) -> Iterator[str]:
    for nth, words in enumerate(row.words):
        at = row.top + LINE * (nth + 1)
        yield _text(8 if row.found is None else 16, at, words, "" if row.found else "theme")
    if row.found is None:
        return
    middle = row.top + LINE * len(row.words) / 2 + 3.5
    # The worst last, so that nothing lies upon it.
    for line in sorted(row.found.wanted, key=lambda each: -each.share):
        place = x(line.share)
        yield (
            f'<circle class="met" cx="{place}" cy="{middle}" r="5"/>'
            if line.is_met
            else _diamond(place, middle)
        )
    yield _text(RIGHT + 20, middle + 4, value(row.found.worst), "")


def _diamond(across: float, down: float) -> str:
    return f'<path class="unmet" d="M{across} {down - 6}l6 6-6 6-6-6z"/>'


def _text(across: float, down: float, words: str, name: str, anchor: str = "") -> str:
    look = f' class="{name}"' if name else ""
    begin = f' text-anchor="{anchor}"' if anchor else ""
    return f'<text x="{across}" y="{down}"{look}{begin}>{escape(words)}</text>'
