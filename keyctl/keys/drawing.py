"""The blade of a key to scale: the outline of its cuts, and the two rulers they are read from.

Position 1 stands at the left, as in the bitting; so the reference that the first cut is measured from (tip or
shoulder, by the format's reading order) stands at the left too. Where a format lacks a figure nothing is
drawn and the view says which one is missing.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Protocol

from django.utils.formats import number_format
from django.utils.translation import gettext_lazy, pgettext_lazy

from keyctl import engine
from keyctl.formats.naming import name_of
from keyctl.lib import lengths

# 96 pixels are an inch on paper: a print shows the key three times as large as it is.
ENLARGEMENT = 3
PIXELS_PER_INCH = 96 * ENLARGEMENT
MM_PER_INCH = float(lengths.MM_PER_INCH)
MARGIN_LEFT = 34
MARGIN_RIGHT = 30
BLADE_TOP = 44
BOW_WIDTH = 22
BOW_RISE = 10
POSITIONS_ROW = 18
ENDS_ROW = 36
INCH_RULER = 50
MM_RULER = 86
FOOT = 32

# What the first cut is measured from, by the end that is read first.
REFERENCES = {"tip": pgettext_lazy("on a drawing", "tip"), "bow": pgettext_lazy("on a drawing", "shoulder")}
ENDS = {"tip": pgettext_lazy("on a drawing", "tip"), "bow": pgettext_lazy("on a drawing", "bow")}

# What a format must say before its keys can be drawn, in the words of the bench.
FIGURES = {
    "first_cut_in": gettext_lazy("the distance from the {reference} to the middle of the first cut"),
    "spacing_in": gettext_lazy("the distance from one cut to the next"),
    "plug_diameter_in": gettext_lazy("the diameter of the plug, from which root depths follow"),
}


class Blade(Protocol):
    """What the engine says of a blade, in inches: x from the reference, y from the plain edge."""

    @property
    def points(self) -> Sequence[tuple[float, float]]: ...
    @property
    def cuts(self) -> Sequence[tuple[int, float, float]]: ...
    @property
    def length_in(self) -> float: ...
    @property
    def height_in(self) -> float: ...


@dataclass(frozen=True)
class Cut:
    """One cut in words and figures; a figure is None where the format does not give it."""

    position: int
    symbol: str
    centre_in: float | None
    root_depth_in: float | None

    @property
    def centre_mm(self) -> float | None:
        return None if self.centre_in is None else self.centre_in * MM_PER_INCH

    @property
    def root_depth_mm(self) -> float | None:
        return None if self.root_depth_in is None else self.root_depth_in * MM_PER_INCH


@dataclass(frozen=True)
class Label:
    """The symbol of a cut above the blade, its position below, and the line from the one to its root."""

    position: int
    symbol: str
    x: int
    root_y: int


@dataclass(frozen=True)
class Tick:
    x: int
    length: int
    words: str = ""


@dataclass(frozen=True)
class Ruler:
    unit: str
    y: int
    ticks: tuple[Tick, ...]

    @property
    def baseline(self) -> int:
        return self.y + 26


@dataclass(frozen=True)
class Drawing:
    """``name`` goes before every id in the picture: two pictures on one page keep their own."""

    name: str
    title: str
    width: int
    height: int
    edge: tuple[tuple[int, int], ...]
    labels: tuple[Label, ...]
    rulers: tuple[Ruler, ...]
    far_x: int
    foot: int
    first_end: str
    last_end: str
    left: int = MARGIN_LEFT
    top: int = BLADE_TOP

    @property
    def outline(self) -> str:
        """The plain edge, the end at the reference and the cut edge; open where the blade goes on."""
        return f"M{self.far_x} {self.foot}H{self.left}L" + " ".join(f"{x} {y}" for x, y in self.edge)

    @property
    def bow(self) -> str:
        """The edge of the bow behind the shoulder, open to the left; none where the tip stands there."""
        if self.first_end == "tip":
            return ""
        down = self.foot - self.top + 2 * BOW_RISE
        return f"M{self.left - BOW_WIDTH} {self.top - BOW_RISE}h{BOW_WIDTH}v{down}h{-BOW_WIDTH}"

    @property
    def break_line(self) -> str:
        """The blade goes on where no figure says how far."""
        step = (self.foot - self.top + 12) // 4
        return f"M{self.far_x} {self.top - 6}l6 {step}l-12 {step}l12 {step}l-6 {step}"

    @property
    def reference(self) -> str:
        return str(REFERENCES[self.first_end])

    @property
    def first_words(self) -> str:
        return str(ENDS[self.first_end])

    @property
    def last_words(self) -> str:
        return str(ENDS[self.last_end])

    @property
    def positions_baseline(self) -> int:
        return self.foot + POSITIONS_ROW

    @property
    def ends_baseline(self) -> int:
        return self.foot + ENDS_ROW


@dataclass(frozen=True)
class KeyView:
    """One key for a page or a print: always its cuts, a picture where the format has the figures for it."""

    bitting: str
    format_name: str
    first_end: str
    reference: str
    cuts: tuple[Cut, ...]
    missing: tuple[str, ...]
    drawing: Drawing | None


def view_key(format_id: str, bitting: str, *, name: str, title: str) -> KeyView:
    format = engine.load_format(format_id)
    missing = tuple(missing_figures(format))
    drawing = None
    if not missing:
        profile = engine.key_profile(format_id, bitting)
        drawing = draw(profile, bitting, _ends(format), name=name, title=title)
    return KeyView(
        bitting=bitting,
        format_name=name_of(format),
        first_end=str(ENDS[_ends(format)[0]]),
        reference=_reference(format),
        cuts=tuple(_cuts(format, bitting)),
        missing=missing,
        drawing=drawing,
    )


def missing_figures(format: engine.CoreFormat) -> Iterator[str]:
    for figure, words in FIGURES.items():
        if getattr(format, figure) is None:
            yield words.format(reference=_reference(format))


def draw(profile: Blade, bitting: str, ends: tuple[str, str], *, name: str, title: str) -> Drawing:
    foot = BLADE_TOP + _pixels(profile.height_in)
    far_x = MARGIN_LEFT + _pixels(profile.length_in)
    labels = tuple(
        Label(position, bitting[position - 1], MARGIN_LEFT + _pixels(centre), foot - _pixels(root))
        for position, centre, root in profile.cuts
    )
    return Drawing(
        name=name,
        title=title,
        width=far_x + MARGIN_RIGHT,
        height=foot + MM_RULER + FOOT,
        edge=tuple((MARGIN_LEFT + _pixels(x), foot - _pixels(y)) for x, y in profile.points),
        labels=labels,
        rulers=(_inches(profile.length_in, foot), _millimetres(profile.length_in, foot)),
        far_x=far_x,
        foot=foot,
        first_end=ends[0],
        last_end=ends[1],
    )


def _pixels(inches: float) -> int:
    return round(inches * PIXELS_PER_INCH)


def _ends(format: engine.CoreFormat) -> tuple[str, str]:
    return ("tip", "bow") if format.order == "tip-bow" else ("bow", "tip")


def _reference(format: engine.CoreFormat) -> str:
    return str(REFERENCES[_ends(format)[0]])


def _cuts(format: engine.CoreFormat, bitting: str) -> Iterator[Cut]:
    """Each figure stands by itself: root depths are known without spacing, and the other way round."""
    for position, symbol in enumerate(bitting, 1):
        number = format.number_of(symbol)
        yield Cut(
            position=position,
            symbol=symbol,
            centre_in=_centre(format, position),
            root_depth_in=None if number is None else format.root_depth_in(number),
        )


def _centre(format: engine.CoreFormat, position: int) -> float | None:
    if format.first_cut_in is None or format.spacing_in is None:
        return None
    return format.first_cut_in + (position - 1) * format.spacing_in


def _inches(length_in: float, foot: int) -> Ruler:
    """A tick for each twentieth of an inch; each half inch has its figure."""
    count = int(length_in * 20 + 1e-9) + 1
    ticks = (
        _tick(nth / 20, nth, long=10, middle=2, words=number_format(f"{nth / 20:g}")) for nth in range(count)
    )
    return Ruler("in", foot + INCH_RULER, tuple(ticks))


def _millimetres(length_in: float, foot: int) -> Ruler:
    """A tick for each millimetre; each fifth has its figure."""
    count = int(length_in * MM_PER_INCH + 1e-9) + 1
    ticks = (_tick(nth / MM_PER_INCH, nth, long=5, middle=5, words=str(nth)) for nth in range(count))
    return Ruler("mm", foot + MM_RULER, tuple(ticks))


def _tick(inches: float, nth: int, *, long: int, middle: int, words: str) -> Tick:
    x = MARGIN_LEFT + _pixels(inches)
    if nth % long == 0:
        return Tick(x, 12, words)
    return Tick(x, 8 if nth % middle == 0 else 5)
