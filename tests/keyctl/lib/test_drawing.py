"""Scales and ticks against brute force: every step of every axis tried, and labels laid out as boxes.

The nights on which clocks change are those of the IANA time zone data that Python reads (zoneinfo).
"""

from collections.abc import Iterator
from datetime import UTC, date, datetime, timedelta
from itertools import pairwise
from zoneinfo import ZoneInfo

import pytest
from django.test import override_settings
from django.utils import timezone

from keyctl.lib import days
from keyctl.lib.drawing.scales import Scale, TimeScale
from keyctl.lib.drawing.spans import LABELS, MOST_ROWS, Happening, Span, draw_spans
from keyctl.lib.drawing.steps import HEIGHT, NAME_GAP, Series, draw_steps
from keyctl.lib.drawing.ticks import SIGN, count_steps, date_ticks, month_of, months_until, spread
from keyctl.lib.moments import start_of_day

BERLIN = ZoneInfo("Europe/Berlin")
FIRST = datetime(2026, 1, 5, 9, 30, tzinfo=UTC)


@pytest.fixture
def berlin() -> Iterator[None]:
    with override_settings(TIME_ZONE="Europe/Berlin"), timezone.override(BERLIN):
        yield


def round_steps() -> list[int]:
    return [lead * 10**power for power in range(12) for lead in (1, 2, 5)]


@pytest.mark.parametrize("at_most", [3, 5, 8])
def test_counts_take_the_smallest_round_step_that_fits(at_most: int) -> None:
    for most in [*range(2000), 99_999, 100_000, 123_456_789]:
        steps = count_steps(most, at_most)
        wanted = next(step for step in round_steps() if step * at_most >= most)
        assert steps[1] - steps[0] == wanted
        assert steps == list(range(0, steps[-1] + 1, wanted))
        assert steps[-1] - wanted < max(most, 1) <= steps[-1]


def test_nought_is_at_the_bottom_and_the_most_at_the_top() -> None:
    scale = Scale(80, 20, 260)
    assert (scale.y(0), scale.y(40), scale.y(80)) == (260, 140, 20)


@pytest.mark.parametrize("width", [80, 150, 300, 540, 900])
@pytest.mark.parametrize("hours", [1, 20, 50, 24 * 9, 24 * 40, 24 * 100, 24 * 365, 24 * 3000, 24 * 20000])
def test_words_below_an_axis_never_touch(width: int, hours: int) -> None:
    scale = TimeScale(FIRST, FIRST + timedelta(hours=hours), 0, width)
    ticks = date_ticks(scale)
    assert ticks
    boxes = [(t.place - len(t.words) * SIGN / 2, t.place + len(t.words) * SIGN / 2) for t in ticks]
    assert all(left[1] < right[0] for left, right in pairwise(boxes))
    assert all(0 <= tick.place <= width for tick in ticks)


@pytest.mark.parametrize("days", [9, 40, 100, 365, 3000])
def test_an_axis_is_marked_as_finely_as_it_can_be(days: int) -> None:
    ticks = date_ticks(TimeScale(FIRST, FIRST + timedelta(days=days), 0, 540))
    assert 3 <= len(ticks) <= 14


def test_days_over_both_changes_of_the_clock_stand_at_their_midnights(berlin: None) -> None:
    """29 March 2026 has 23 hours there and 25 October has 25."""
    for day, hours in ((date(2026, 3, 29), 23), (date(2026, 10, 25), 25)):
        first = start_of_day(day - timedelta(days=2)).astimezone(UTC)
        scale = TimeScale(first, first + timedelta(days=5), 0, 1200)
        ticks = date_ticks(scale)
        named = {tick.words: tick.place for tick in ticks}
        midnights = [
            datetime(day.year, day.month, day.day + n, tzinfo=BERLIN).astimezone(UTC) for n in (0, 1)
        ]
        places = [round((each - first).total_seconds() / 360) for each in midnights]
        assert [named[f"{day.day + n} {day:%b}"] for n in (0, 1)] == places
        assert places[1] - places[0] == 10 * hours
        assert len(ticks) == len({tick.place for tick in ticks})


def test_weeks_are_marked_on_mondays_and_months_on_their_first(berlin: None) -> None:
    weeks = date_ticks(TimeScale(FIRST, FIRST + timedelta(days=40), 0, 540))
    assert [tick.words for tick in weeks] == ["12 Jan", "19 Jan", "26 Jan", "2 Feb", "9 Feb"]
    months = date_ticks(TimeScale(FIRST, FIRST + timedelta(days=365), 0, 540))
    assert [tick.words for tick in months] == [
        f"{name} 2026" for name in ("Mar", "May", "Jul", "Sep", "Nov")
    ] + ["Jan 2027"]


@pytest.mark.parametrize(
    ("style", "of_weeks", "of_months"),
    [("iso", "%m-%d", "%Y-%m"), ("month", "%b %-d", "%b %Y"), ("", "%-d %b", "%b %Y")],
)
def test_marks_are_written_as_the_reader_writes_days(style: str, of_weeks: str, of_months: str) -> None:
    """By Python's own words for months; ISO 8601 writes the larger part first."""
    begun = days.style.set(style)
    weeks = date_ticks(TimeScale(FIRST, FIRST + timedelta(days=28), 0, 540))
    months = date_ticks(TimeScale(FIRST, FIRST + timedelta(days=300), 0, 540))
    days.style.reset(begun)
    written = {(FIRST + timedelta(days=nth)).strftime(of_weeks) for nth in range(29)}
    assert {tick.words for tick in weeks} <= written
    assert {tick.words for tick in months} <= {
        (FIRST + timedelta(days=nth)).strftime(of_months) for nth in range(301)
    }


def test_names_keep_their_order_and_their_distance() -> None:
    for places in ([10, 10, 10], [90, 12, 11, 95], [100, 100, 100, 100], [5], []):
        moved = spread(places, 9, 100)
        assert sorted(range(len(places)), key=lambda n: (moved[n], n)) == sorted(
            range(len(places)), key=lambda n: (places[n], n)
        )
        assert all(b - a >= 9 for a, b in pairwise(sorted(moved)))
        assert max(moved, default=0) <= 100


def test_a_month_is_found_as_by_looking_at_each() -> None:
    months = months_until(date(2026, 3, 31), 24)
    assert (months[0], months[-1], len(months)) == (date(2024, 4, 1), date(2026, 3, 1), 24)
    for back in range(800):
        day = date(2026, 3, 31) - timedelta(days=back)
        held = [n for n, month in enumerate(months) if (month.year, month.month) == (day.year, day.month)]
        assert month_of(months, day) == (held[0] if held else -1)


def test_bars_lie_by_their_time_in_the_row_of_their_place() -> None:
    day = timedelta(days=1)
    spans = [
        Span("Key room", "kept", FIRST, FIRST + 10 * day),
        Span("Ann", "held", FIRST + 10 * day, FIRST + 30 * day),
        Span("Key room", "kept", FIRST + 30 * day),
    ]
    drawn = draw_spans(spans, FIRST + 40 * day, [Happening(FIRST + 20 * day, "broken")])
    assert [label.words for label in drawn.labels] == ["Key room", "Ann"]
    assert drawn.bars[0].y == drawn.bars[2].y < drawn.bars[1].y
    length = drawn.right - LABELS
    assert [bar.x - LABELS for bar in drawn.bars] == [0, round(length / 4), round(length * 3 / 4)]
    assert drawn.bars[2].x + drawn.bars[2].width == drawn.right
    assert drawn.marks[0].place - LABELS == round(length / 2)


def test_of_too_many_places_the_last_are_drawn_and_the_rest_counted() -> None:
    hour = timedelta(hours=1)
    spans = [Span(f"P{n}", "held", FIRST + n * hour, FIRST + (n + 1) * hour) for n in range(MOST_ROWS + 6)]
    drawn = draw_spans(spans, FIRST + 30 * hour)
    assert drawn.unshown == 6
    assert drawn.labels[0].words == "P6"


def test_lines_step_from_nought_and_carry_their_last_value() -> None:
    months = months_until(date(2026, 5, 20), 3)
    drawn = draw_steps([Series("one", "Issued", [0, 10, 4]), Series("two", "Lost", [0, 0, 4])], months)
    assert [line.words for line in drawn.lines] == ["Issued 4", "Lost 4"]
    assert drawn.counts[0].words == "0"
    assert drawn.counts[0].place == drawn.bottom == HEIGHT - 40
    assert drawn.lines[1].name_y - drawn.lines[0].name_y == NAME_GAP
    assert drawn.lines[0].path.startswith(f"M{drawn.left} {drawn.bottom}H")
