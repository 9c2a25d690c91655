"""A list without a row says what it is for and what the next act is: none is left without a way on."""

import re
from pathlib import Path

import pytest

PAGES = Path(__file__).resolve().parents[3] / "templates"
EMPTY = re.compile(r'\{% include "_empty\.html" with (.*?) %\}')
# Looked at: their text says the next act, or the page around them is the way on, or nothing is to be done.
SAYS_IT_IN_ITS_TEXT = {
    "approvals/_proposals.html",
    "approvals/ask.html",
    "counts/mine.html",
    "exposure/_counts.html",
    "field/device.html",
    "jobs/routines.html",
    "keys/_register.html",
    "keys/site_rules.html",
    "listing/acts.html",
    "losses/doors.html",
    "losses/holders.html",
    "losses/plans.html",
    "losses/proof.html",
    "maps/floor.html",
    "orders/_parts.html",
    "proofs/detail.html",
    "recovery/blank.html",
    "reveals/_waiting.html",
    "rotations/cores.html",
    "start/home.html",
    "versions/compare.html",
}


def empties() -> list[tuple[str, str]]:
    return [
        (file.relative_to(PAGES).as_posix(), told)
        for file in sorted(PAGES.rglob("*.html"))
        for told in EMPTY.findall(file.read_text())
        if not file.is_relative_to(PAGES / "design")
    ]


def test_there_are_many() -> None:
    assert len(empties()) > 60


@pytest.mark.parametrize("part", ["title=", "text="])
def test_each_says_what_is_not_there_and_what_would_be(part: str) -> None:
    assert [where for where, told in empties() if part not in told] == []


def test_each_says_the_next_act() -> None:
    mute = {where for where, told in empties() if "hint=" not in told and "action_url=" not in told}
    assert mute - SAYS_IT_IN_ITS_TEXT == set()
