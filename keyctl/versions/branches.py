"""The difference of two versions branch by branch, as bars in whole pixels."""

from collections import Counter
from dataclasses import dataclass

from django.utils.translation import gettext as _

from keyctl.lib.numbers import as_number
from keyctl.versions.comparing import Difference
from keyctl.versions.picture import Key, Picture

MOST_BRANCHES = 20
# In this order in a bar; each has a pattern of its own in the drawing.
PARTS = ("same", "added", "changed", "gone")
ROW = 30
BAR = 18
LETTER = 8
SCALE = 420
WORDS_ROOM = 250
MARGIN = 10
LEGEND_ROOM = 34


@dataclass(frozen=True)
class Piece:
    part: str
    x: int
    width: int


@dataclass(frozen=True)
class Bar:
    branch: str
    y: int
    pieces: tuple[Piece, ...]
    words: str
    words_x: int

    @property
    def baseline(self) -> int:
        return self.y + 14


@dataclass(frozen=True)
class Bars:
    bars: list[Bar]
    legend: list[Piece]
    width: int
    height: int
    legend_y: int
    # Branches in which nothing changed, or that found no room.
    unchanged: int
    unshown: int


def draw_branches(before: Picture, after: Picture, found: Difference) -> Bars:
    counts = _counted(before, after, found)
    changed = {branch: parts for branch, parts in counts.items() if parts.total() > parts["same"]}
    first = sorted(changed, key=lambda branch: (parts_changed(changed[branch]), branch))[:MOST_BRANCHES]
    longest = max((changed[branch].total() for branch in first), default=1)
    left = 2 * MARGIN + LETTER * max((len(branch) for branch in first), default=0)
    rows = [(branch, MARGIN + ROW * row) for row, branch in enumerate(first)]
    bars = [_bar(branch, _pieces(changed[branch], left, longest), changed[branch], y) for branch, y in rows]
    foot = MARGIN + ROW * len(bars)
    return Bars(
        bars=bars,
        legend=[Piece(part, left + 130 * place, BAR) for place, part in enumerate(PARTS)],
        width=left + SCALE + WORDS_ROOM,
        height=foot + LEGEND_ROOM,
        legend_y=foot + 8,
        unchanged=len(counts) - len(changed),
        unshown=len(changed) - len(first),
    )


def parts_changed(parts: Counter[str]) -> int:
    """Negative, so that what changed most comes first."""
    return parts["same"] - parts.total()


def _counted(before: Picture, after: Picture, found: Difference) -> dict[str, Counter[str]]:
    gone = {change.symbol for change in found.gone}
    added = {change.symbol for change in found.added}
    changed = {change.symbol for change in (*found.moved, *found.cut_anew)}
    counts: dict[str, Counter[str]] = {}
    for symbol in before.keys.keys() | after.keys.keys():
        branch = _branch_of(symbol, before.keys if symbol in gone else after.keys)
        part = "gone" if symbol in gone else "added" if symbol in added else "same"
        counts.setdefault(branch, Counter())["changed" if symbol in changed else part] += 1
    return counts


def _branch_of(symbol: str, keys: dict[str, Key]) -> str:
    """The master right below the top that the key stands under; a key that has none above is its own."""
    line = [symbol]
    while keys[line[-1]].parent:
        line.append(keys[line[-1]].parent)
    branch = line[-2] if len(line) > 1 else line[-1]
    return branch if keys[branch].kind != "change" else line[-1]


def _bar(branch: str, pieces: tuple[Piece, ...], parts: Counter[str], y: int) -> Bar:
    said = {"added": _("{count} added"), "changed": _("{count} changed"), "gone": _("{count} gone")}
    words = ", ".join(said[part].format(count=as_number(parts[part])) for part in PARTS[1:] if parts[part])
    whole = _("{words}; {same} the same").format(words=words, same=as_number(parts["same"]))
    return Bar(branch, y, pieces, whole, pieces[-1].x + pieces[-1].width + 8)


def _pieces(parts: Counter[str], left: int, longest: int) -> tuple[Piece, ...]:
    """Every part that is there is wide enough to be seen, however few keys it holds."""
    pieces, x = [], left
    for part in PARTS:
        if parts[part]:
            width = max(4, (SCALE - 12) * parts[part] // longest)
            pieces.append(Piece(part, x, width))
            x += width
    return tuple(pieces)
