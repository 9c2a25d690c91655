"""A lost control key in each construction, from the report to the recovered key, by two people."""

from collections.abc import Callable

import pytest
from playwright.sync_api import expect

from keyctl import engine
from keyctl.cores.models import Core
from keyctl.cores.turning import pins_of
from keyctl.recovery.models import ControlBlank, ControlKeyCase
from keyctl.systems.models import KeySymbol, KeySystem
from keyctl.systems.services import bitting_of
from tests.browser.conftest import Tablet

SLEEVES = ["small-a2-7", "small-a4-7", "large-sleeve-34", "large-sleeve-2345"]


@pytest.fixture
def locksmith(estate: None, open_tablet: Callable[..., Tablet]) -> Tablet:
    tablet = open_tablet()
    tablet.sign_in("locksmith")
    return tablet


@pytest.fixture
def officer(estate: None, open_tablet: Callable[..., Tablet]) -> Tablet:
    tablet = open_tablet()
    tablet.sign_in("officer")
    return tablet


def system_of(format_id: str) -> KeySystem:
    return KeySystem.objects.filter(format_id=format_id).order_by("code")[0]


def cores_of(case: ControlKeyCase) -> list[Core]:
    """Two cores in different pins, so that agreeing says something."""
    return list(
        Core.objects.filter(system=case.system, site=case.site, pinning__isnull=False).order_by("tag")[:2]
    )


def go_on(tablet: Tablet, button: str) -> None:
    tablet.page.get_by_role("button", name=button).click()
    tablet.page.get_by_role("dialog").get_by_role("button").last.click()


def report(tablet: Tablet, system: KeySystem) -> ControlKeyCase:
    core = Core.objects.filter(system=system, pinning__isnull=False).order_by("site__code")[0]
    tablet.go("/recovery/new/")
    tablet.page.get_by_label("Key system whose control key is lost").select_option(
        f"{core.site_id}_{system.pk}"
    )
    tablet.page.get_by_label("What happened").fill("Missing from the cabinet since the morning")
    tablet.page.get_by_label("I have told the security officer.").check()
    tablet.page.get_by_role("button", name="Open the case").click()
    expect(tablet.page.get_by_role("heading", level=1)).to_contain_text(system.code)
    return ControlKeyCase.objects.get(system=system)


def read_a_core(tablet: Tablet, case: ControlKeyCase, core: Core) -> None:
    """The pins as a locksmith would find and write them, in the shop's own numbers."""
    tablet.go(f"/recovery/cases/{case.pk}/read/")
    tablet.page.get_by_label("Tag of the core").fill(core.tag)
    pinned = pins_of(core)
    for stack in pinned.stacks:
        control = [] if stack.control is None else [engine.control_label(pinned.format, stack.control)]
        pins = [str(stack.bottom), *map(str, stack.masters), *control, str(stack.top)]
        tablet.page.get_by_label(f"Position {stack.position}", exact=True).fill(" ".join(pins))
    tablet.page.get_by_role("button", name="Write the reading down").click()
    expect(tablet.page.get_by_role("link", name=str(core)).first).to_be_visible()


def approve(officer: Tablet, case: ControlKeyCase) -> None:
    officer.go(f"/recovery/cases/{case.pk}/")
    go_on(officer, "Approve one control key")
    expect(officer.page.get_by_text("Approved by")).to_be_visible()


def close(tablet: Tablet, case: ControlKeyCase) -> None:
    tablet.go(f"/recovery/cases/{case.pk}/")
    for box in tablet.page.locator("input[name=checks]").all():
        box.check()
    tablet.page.get_by_label("How it ended").fill("Tried on the bench; the officer knows")
    tablet.page.get_by_role("button", name="Close the case").click()
    expect(tablet.page.locator("main")).to_contain_text("Closed")


def takes_out(case: ControlKeyCase, shown: str) -> bool:
    """Whether the key on the page, cut for cut the recorded one under the sleeve, takes both cores out."""
    recorded = bitting_of(case.system.symbols.get(kind=KeySymbol.Kind.CONTROL))
    sleeve = engine.load_format(case.system.format_id).sleeve
    same = all(shown[position - 1] == recorded[position - 1] for position in sleeve)
    key = engine.read_key(case.system.format_id, shown)
    return same and all(engine.try_key(pins_of(core), key).withdraws for core in cores_of(case))


@pytest.mark.parametrize("format_id", SLEEVES)
def test_two_cores_give_the_control_key_back(locksmith: Tablet, officer: Tablet, format_id: str) -> None:
    case = report(locksmith, system_of(format_id))
    for core in cores_of(case):
        read_a_core(locksmith, case, core)
    expect(locksmith.page.get_by_text("They agree")).to_be_visible()
    approve(officer, case)
    locksmith.go(f"/recovery/cases/{case.pk}/")
    go_on(locksmith, "Show the control key")
    expect(locksmith.page.get_by_text("The cores agree with the control key on record")).to_be_visible()
    assert takes_out(case, locksmith.page.locator(".secret-value").inner_text())
    close(locksmith, case)
    assert locksmith.complaints == officer.complaints == []


def test_a_working_key_is_copied_onto_a_control_blank(locksmith: Tablet, officer: Tablet) -> None:
    case = report(locksmith, system_of("full-tip-6"))
    blank = ControlBlank.objects.get(site=case.site, keyway=case.system.keyway)
    locksmith.page.get_by_label("Tag of the core").first.fill(cores_of(case)[0].tag)
    locksmith.page.get_by_role("button", name="Choose this core").click()
    locksmith.page.get_by_role("radio").first.check()
    locksmith.page.get_by_role("button", name="Choose this key").click()
    approve(officer, case)
    locksmith.go(f"/recovery/cases/{case.pk}/")
    go_on(locksmith, "Take one blank and cut it")
    locksmith.wait_until_quiet()
    close(locksmith, case)
    assert ControlBlank.objects.get(pk=blank.pk).count == blank.count - 1
    assert locksmith.complaints == officer.complaints == []


@pytest.mark.parametrize("format_id", ["padlock-screw-6", "fixed-6"])
def test_where_there_is_no_control_key_the_page_leads_another_way(locksmith: Tablet, format_id: str) -> None:
    case = report(locksmith, system_of(format_id))
    expect(locksmith.page.locator("main")).to_contain_text("no control key")
    close(locksmith, case)
    assert locksmith.complaints == []
