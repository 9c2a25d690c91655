"""The meaning of a word beside it, after WCAG 2.2, 1.4.13: on hover and focus, dismissible, hoverable."""

import pytest
from playwright.sync_api import expect

from keyctl.words.glossary import WORDS
from tests.browser.conftest import Tablet
from tests.cast import gather

NOTE = ".term-note"


@pytest.fixture
def page_of_systems(transactional_db: None, tablet: Tablet) -> Tablet:
    gather()
    tablet.sign_in("locksmith")
    tablet.go("/systems/")
    return tablet


def test_the_meaning_comes_and_goes_as_the_guideline_asks(page_of_systems: Tablet) -> None:
    page = page_of_systems.page
    word, note, meaning = page.locator("h1 .term"), page.locator(NOTE), str(WORDS["key-system"].meaning)

    word.hover()
    expect(note).to_have_text(meaning)
    # The pointer moves on to the note, and it stays.
    note.hover()
    page.wait_for_timeout(300)
    expect(note).to_be_visible()
    # Escape puts it away while the pointer rests.
    page.keyboard.press("Escape")
    expect(note).to_have_count(0)

    page.mouse.move(0, 0)
    word.hover()
    expect(note).to_be_visible()
    page.mouse.move(1, 1)
    expect(note).to_have_count(0)

    page.locator("#content").focus()
    page.keyboard.press("Tab")
    expect(word).to_be_focused()
    expect(note).to_have_text(meaning)
    page.keyboard.press("Tab")
    expect(note).to_have_count(0)


def test_it_stays_inside_the_window_and_a_press_leads_to_the_glossary(page_of_systems: Tablet) -> None:
    page = page_of_systems.page
    page.set_viewport_size({"width": 390, "height": 844})
    page.locator("h1 .term").hover()
    box = page.locator(NOTE).bounding_box()
    assert box
    assert box["x"] >= 0
    assert box["x"] + box["width"] <= 390
    assert box["y"] + box["height"] <= 844
    page.locator("h1 .term").click()
    page.wait_for_url("**/words/#key-system")
    expect(page.locator("#key-system")).to_be_in_viewport()
