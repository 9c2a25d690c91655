"""Every kind of page full of the invented estate, after an act upon it, at tablet and phone size, each in a
theme: nothing sticks out, nothing complains. `test_sweep.py` looks at every page there is, as it opens.

``KEYCTL_PICTURES=folder`` also keeps the pictures; those in README.md are made this way.
"""

import os
from collections.abc import Callable
from pathlib import Path
from typing import Literal

import pytest
from playwright.sync_api import ViewportSize

from tests.browser.conftest import PHONE, TABLET, Tablet
from tests.browser.rounds import ROUNDS, Act
from tests.browser.sweeping import SIDEWAYS, SMALL_CONTROLS
from tests.factories import make_user
from tests.permits import let_work_name_everything

LOOKS: list[tuple[str, ViewportSize, Literal["light", "dark"]]] = [
    ("tablet", TABLET, "light"),
    ("phone", PHONE, "dark"),
]


@pytest.mark.parametrize("person", ROUNDS)
def test_nothing_sticks_out_and_nothing_complains(
    estate: None, tablet: Tablet, person: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    let_work_name_everything(monkeypatch, second=make_user())
    tablet.sign_in(person)
    found = {
        name: faults for name, path, act in ROUNDS[person]() if (faults := look(tablet, name, path, act))
    }
    assert found == {}


def look(tablet: Tablet, name: str, path: str, act: Act | None) -> list[str]:
    """Opened once, in both looks: no script asks how wide the page is."""
    visit(tablet, path, act)
    faults = []
    for size, viewport, theme in LOOKS:
        tablet.page.set_viewport_size(viewport)
        tablet.page.emulate_media(color_scheme=theme)
        keep_picture(tablet, f"{name}-{size}-{theme}")
        faults += [f"{size}: {fault}" for fault in faults_of(tablet)]
    tablet.page.set_viewport_size(TABLET)
    return faults


def visit(tablet: Tablet, path: str, act: Act | None) -> None:
    tablet.go(path)
    if act is not None:
        act(tablet)
    tablet.wait_until_quiet()


def faults_of(tablet: Tablet) -> list[str]:
    faults = [*tablet.complaints, *tablet.page.evaluate(SMALL_CONTROLS)]
    tablet.complaints.clear()
    if (out := tablet.page.evaluate(SIDEWAYS)) > 0:
        faults.append(f"{out} px stick out")
    return faults


def keep_picture(tablet: Tablet, name: str) -> None:
    if folder := os.environ.get("KEYCTL_PICTURES"):
        tablet.page.screenshot(path=Path(folder) / f"{name}.png")


def test_the_sign_in_page_fits_a_phone(estate: None, open_tablet: Callable[..., Tablet]) -> None:
    tablet = open_tablet(viewport=PHONE)
    visit(tablet, "/account/sign-in/", None)
    assert faults_of(tablet) == []
