"""Measuring pins against the shear lines."""

import pytest
from django.test import Client

from keyctl import engine
from keyctl.audit.models import Event
from keyctl.bench.chart import CONTROL, OPERATING, Chart, draw_residuals
from keyctl.cores.models import Core
from keyctl.cores.turning import pins_of
from tests.cast import Cast
from tests.keyctl.bench.tray import STATUS, in_inches, secrets_in, told_history


def url(core: Core) -> str:
    return f"/bench/measure/?core={core.pk}"


def pins(core: Core, *, longer: float = 0.0) -> dict[str, str]:
    return in_inches(pins_of(core), longer=longer)


def chart_of(*heights: tuple[float, ...], tolerance_in: float = 0.002) -> Chart:
    """The first positions with these pins, the others with good ones."""
    good = (0.1475, 0.025, 0.15, 0.075)
    chosen = engine.load_format("small-a2-5")
    measured = [*heights, *[good] * (5 - len(heights))]
    return draw_residuals(chosen, engine.residuals(chosen.id, measured), tolerance_in)


@pytest.mark.parametrize("name", STATUS)
def test_only_a_locksmith_of_the_site_measures(client: Client, cast: Cast, core: Core, name: str) -> None:
    client.force_login(getattr(cast, name))
    assert client.post(url(core), pins(core)).status_code == STATUS[name]
    assert Event.objects.filter(verb="bench.pins_measured").count() == (name == "locksmith")


def test_it_asks_for_a_core_or_a_construction_first(client: Client, cast: Cast, core: Core) -> None:
    client.force_login(cast.locksmith)
    assert client.get("/bench/measure/").status_code == 200
    assert client.get("/bench/measure/", {"tag": core.tag}).headers["Location"] == url(core)
    assert client.get("/bench/measure/?format=small-a2-7").status_code == 200


def test_pins_of_the_right_length_lie_at_their_lines(client: Client, cast: Cast, core: Core) -> None:
    client.force_login(cast.locksmith)
    answer = client.post(url(core), pins(core))
    assert answer.context["chart"].off == ()
    assert "Every break lies at its line" in answer.content.decode()


def test_long_bottom_pins_raise_every_break(client: Client, cast: Cast, core: Core) -> None:
    client.force_login(cast.locksmith)
    answer = client.post(url(core), pins(core, longer=0.004))
    chart = answer.context["chart"]
    assert {each.label for each in chart.breaks} == {"+4.0"}
    assert len(chart.off) == len(chart.breaks)
    assert "the pins below it are too long" in answer.content.decode()


def test_each_break_is_held_against_its_own_line() -> None:
    """0.1475, 0.025, 0.15, 0.075 is the A2 stack 3, 2, 12, 6: cuts 3 and 5, control cut 7 (17 less 10)."""
    first = [each for each in chart_of().breaks if each.position == 1]
    assert [(each.line, each.cut) for each in first] == [(OPERATING, "3"), (OPERATING, "5"), (CONTROL, "7")]


def test_the_bars_grow_with_the_distance_to_the_side_where_the_break_lies() -> None:
    chart = chart_of((0.1505, 0.025, 0.15, 0.075), (0.1465, 0.025, 0.15, 0.075))
    high, low = (
        next(bar for bar in chart.panels[0].bars if bar.of.position == position) for position in (1, 2)
    )
    assert high.x == chart.panels[0].zero == low.x + low.length
    assert high.length == pytest.approx(3 * low.length, abs=2)


def test_the_band_is_as_wide_as_the_tolerance() -> None:
    chart = chart_of((0.1495, 0.025, 0.15, 0.075))
    bar = chart.panels[0].bars[0]
    assert bar.length == pytest.approx(chart.panels[0].band, abs=1)
    assert bar.of.is_good


def test_a_break_far_off_stays_in_the_picture_and_keeps_its_figure() -> None:
    chart = chart_of((0.4, 0.025, 0.15, 0.075))
    bar = chart.panels[0].bars[0]
    assert bar.x + bar.length <= chart.panels[0].high
    assert float(bar.of.label) > 100


def test_nothing_is_drawn_outside_the_picture() -> None:
    chart = chart_of((0.4, 0.025, 0.15, 0.075), (0.05, 0.025, 0.15, 0.075))
    for panel in chart.panels:
        for bar in panel.bars:
            assert 0 < bar.x < bar.x + bar.length < panel.width
            assert 0 < bar.y < bar.y + bar.height <= panel.height
            assert 70 < bar.label_x < panel.width - 20


def test_the_picture_is_told_in_words_too(client: Client, cast: Cast, core: Core) -> None:
    client.force_login(cast.locksmith)
    answer = client.post(url(core), pins(core, longer=0.004))
    assert "position 1, operating line: +4.0 thousandths" in answer.content.decode()


def test_a_cylinder_without_a_sleeve_has_one_line() -> None:
    chosen = engine.load_format("fixed-6")
    residuals = engine.residuals(chosen.id, [[chosen.length_in(3), 0.2]] * 6)
    assert [panel.line for panel in draw_residuals(chosen, residuals, 0.002).panels] == [OPERATING]


@pytest.mark.parametrize("typed", ["x .1", ".1475", "-.1 .2"])
def test_what_is_no_column_of_lengths_is_refused_at_its_position(
    client: Client, cast: Cast, core: Core, typed: str
) -> None:
    client.force_login(cast.locksmith)
    answer = client.post(url(core), pins(core) | {"pins_5": typed})
    assert answer.status_code == 422
    assert list(answer.context["form"].errors) == ["pins_5"]


def test_an_empty_tray_is_refused(client: Client, cast: Cast, core: Core) -> None:
    client.force_login(cast.locksmith)
    nothing = {f"pins_{position}": "-" for position in range(1, 8)}
    answer = client.post(url(core), nothing | {"tolerance_in": "0.002"})
    assert "one position at least" in answer.content.decode()


def test_the_figures_stand_in_the_box_that_hides_itself(client: Client, cast: Cast, core: Core) -> None:
    client.force_login(cast.locksmith)
    answer = client.post(url(core), pins(core))
    before, _, rest = answer.content.decode().partition('<section class="secret')
    inside, _, after = rest.partition("</section>")
    assert "<svg" in inside
    assert pins(core)["pins_1"] not in before + after
    assert "no-store" in answer.headers["Cache-Control"]


def test_history_knows_who_measured_and_no_length(client: Client, cast: Cast, core: Core) -> None:
    client.force_login(cast.locksmith)
    client.post(url(core), pins(core))
    event = Event.objects.get(verb="bench.pins_measured")
    assert event.sentence == f"measured the pins of core {core} against the shear lines"
    assert event.detail == {}
    assert secrets_in(told_history(), core) == []
