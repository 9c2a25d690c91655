"""One core's exposure as bars: against the bittings that turn it, tried one by one; the "
"scale by its meaning."""

import re
from itertools import product
from xml.etree import ElementTree

import pytest
from django.template.loader import render_to_string
from django.test import Client
from django.urls import reverse

from keyctl import engine
from keyctl.cores.turning import pins_of
from keyctl.exposure.bars import LEFT, Bars, draw_bars, planned_turning
from keyctl.exposure.models import CoreExposure
from tests.keyctl.exposure.test_assess_site import Assessed, assessed
from tests.signing import sign_in

__all__ = ["assessed"]


def drawn(planned: int, unplanned: int, barred: int = 0, near: int = 0) -> Bars:
    found = CoreExposure(
        accepts=planned + unplanned + barred, unplanned=unplanned, near_turning=near, near_withdrawing=0
    )
    return draw_bars(found, planned, title="A core")


def by_kind(bars: Bars) -> dict[str, tuple[int, int]]:
    return {bar.kind: (bar.number, bar.width) for bar in bars.bars}


def test_the_figures_add_up_to_every_bitting_that_turns_the_core(assessed: Assessed) -> None:
    core = assessed.cores[0]
    found = CoreExposure.objects.get(core=core)
    told = by_kind(draw_bars(found, planned_turning(core), title="A core"))
    pinned, format = pins_of(core), engine.load_format(core.format_id)
    boxes = engine.operating_cuts(pinned)
    turning = 0
    for cuts in product(*boxes):
        signs = "".join(format.symbol_of(cut) for cut in cuts)
        turning += engine.try_key(pinned, engine.read_key(core.format_id, signs)).operates
    assert sum(told[kind][0] for kind in ("planned", "incidental", "barred")) == turning == found.accepts
    assert told["planned"][0] > 0


@pytest.mark.parametrize("number", [1, 2, 8, 64, 16384])
def test_a_doubling_is_a_step_of_one_length(number: int) -> None:
    widths = by_kind(drawn(number, 2 * number, 4 * number))
    first, second, third = (widths[kind][1] for kind in ("planned", "incidental", "barred"))
    assert 0 < first < second < third
    assert abs((second - first) - (third - second)) <= 1


@pytest.mark.parametrize("number", [1, 7, 100, 16384, 10_000_000])
def test_a_bar_ends_between_the_ticks_that_enclose_its_number(number: int) -> None:
    bars = drawn(number, 0)
    end = LEFT + by_kind(bars)["planned"][1]
    assert all((tick.x <= end + 1) if tick.number <= number else (tick.x >= end - 1) for tick in bars.ticks)
    assert end <= bars.width
    assert len(bars.ticks) <= 6


def test_none_has_no_bar() -> None:
    assert by_kind(drawn(4, 0))["incidental"] == (0, 0)


def test_it_is_sound_xml_and_says_its_figures_aloud() -> None:
    bars = drawn(4, 1020, 3, near=2)
    root = ElementTree.fromstring(render_to_string("exposure/_bars.svg.html", {"bars": bars}))  # noqa: S314
    said = next(node.text or "" for node in root.iter() if node.get("id") == "exposure-desc")
    assert re.findall(r": ([\d,]+)\.", said) == ["4", "1,020", "3", "2"]
    assert not any(node.get("style") for node in root.iter())


def test_the_page_of_a_core_has_them(assessed: Assessed, client: Client) -> None:
    sign_in(client, assessed.cast.officer)
    text = client.get(reverse("exposure:core", args=[assessed.cores[0].pk])).content.decode()
    assert "exposure-desc" in text
    assert "The same in words" in text
