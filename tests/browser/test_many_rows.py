"""One act on many doors, from the list to the undo, by keys alone."""

from playwright.sync_api import expect

from keyctl.places.models import Door
from tests import factories
from tests.browser.conftest import Tablet
from tests.cast import gather

MOST_STEPS = 120


def tab_to(tablet: Tablet, selector: str) -> None:
    """As a person without a mouse gets there; a place that the key never reaches fails the test."""
    for _ in range(MOST_STEPS):
        if tablet.page.evaluate("s => document.activeElement.matches(s)", selector):
            return
        tablet.page.keyboard.press("Tab")
    raise AssertionError(f"Tab never reached {selector}")


def skip_to_the_content(tablet: Tablet) -> None:
    """The first stop of every page."""
    tablet.page.keyboard.press("Tab")
    tablet.page.keyboard.press("Enter")


def enter(tablet: Tablet, selector: str) -> None:
    tab_to(tablet, selector)
    with tablet.page.expect_navigation():
        tablet.page.keyboard.press("Enter")
    tablet.wait_until_quiet()
    skip_to_the_content(tablet)


def sets() -> list[str]:
    return sorted(Door.objects.values_list("hardware_set", flat=True))


def test_rows_are_ticked_tried_changed_and_undone_by_keys(transactional_db: None, tablet: Tablet) -> None:
    cast = gather()
    floor = factories.make_floor(cast.north)
    doors = [factories.make_door(floor=floor, number=f"{nth}", hardware_set="HW-1") for nth in range(3)]
    tablet.sign_in("locksmith")
    tablet.go("/estate/")
    skip_to_the_content(tablet)
    for door in doors[:2]:
        tab_to(tablet, f'input[value="{door.pk}"]')
        tablet.page.keyboard.press("Space")
    tab_to(tablet, "#act-doors")
    tablet.page.keyboard.type("Set the hardware")
    enter(tablet, "#bulk-doors button")
    expect(tablet.page.locator("main")).to_contain_text("2 rows are chosen")
    tab_to(tablet, "[name=hardware_set]")
    tablet.page.keyboard.type("HW-2")
    with tablet.page.expect_navigation():
        tablet.page.keyboard.press("Enter")
    expect(tablet.page.locator("main")).to_contain_text("Would change: 2")
    skip_to_the_content(tablet)
    assert sets() == ["HW-1"] * 3
    enter(tablet, 'form[action$="/do/"] button')
    expect(tablet.page.locator("main")).to_contain_text("Done: 2")
    assert sets() == ["HW-1", "HW-2", "HW-2"]
    enter(tablet, 'form[action$="/undo/"] button')
    expect(tablet.page.locator("main")).to_contain_text("Undone: 2")
    assert sets() == ["HW-1"] * 3
    assert tablet.complaints == []
