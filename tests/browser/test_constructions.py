"""Each construction from a new core to a swapped core, and how its control key is recovered."""

import pytest
from playwright.sync_api import expect

from keyctl.cores.models import Core
from keyctl.orders.models import WorkOrder
from keyctl.places.models import Housing
from keyctl.systems.models import KeySymbol, KeySystem
from tests.browser.conftest import Tablet

FORMATS = [
    "small-a2-7",
    "small-a4-7",
    "fixed-6",
    "large-sleeve-34",
    "large-sleeve-2345",
    "full-tip-6",
    "padlock-screw-6",
]


def a_housing_of(system: KeySystem) -> Housing:
    found = Housing.objects.filter(cores__system=system).order_by("door__number", "pk").first()
    assert found is not None
    return found


def a_spare_key_of(system: KeySystem) -> KeySymbol:
    return system.symbols.filter(kind=KeySymbol.Kind.CHANGE).order_by("-ordinal")[0]


def register(tablet: Tablet, system: KeySystem, housing: Housing, key: KeySymbol) -> Core:
    tablet.go("/estate/cores/new/")
    tablet.page.get_by_label("Site").select_option(str(housing.door.site.pk))
    tablet.page.get_by_label("Key system").select_option(str(system.pk))
    tablet.page.get_by_label("Keyed to").fill(key.symbol)
    tablet.page.get_by_role("button", name="Register the core").click()
    expect(tablet.page.get_by_text("is registered")).to_be_visible()
    return Core.objects.get(
        system=system, pinning__isnull=True, order_lines__isnull=True, place="bench", keyed_to=key
    )


def pin(tablet: Tablet, core: Core) -> None:
    tablet.go(f"/orders/new/pin/?site={core.site_id}&q={core.tag}")
    tablet.page.get_by_label("What is it for?").fill("A new core")
    tablet.page.get_by_role("checkbox").first.check()
    tablet.page.get_by_role("button", name="Open the order").click()
    tablet.page.get_by_role("button", name="Pin this core").click()
    expect(tablet.page.get_by_text("1 of 1 lines done")).to_be_visible()
    with tablet.page.expect_download() as printed:
        tablet.page.get_by_role("button", name="Pinning sheet (PDF)").click()
        tablet.page.get_by_role("dialog").get_by_role("button").last.click()
    assert printed.value.path().read_bytes().startswith(b"%PDF-")


def try_out(tablet: Tablet, core: Core) -> None:
    """At the bench: its tag, its stacks, every key as its pins let it, its tag once more."""
    order = WorkOrder.objects.get(lines__core=core)
    tablet.go(f"/orders/{order.pk}/bench/")
    tablet.page.get_by_label("Tag on the core").fill(core.tag)
    tablet.page.get_by_role("button", name="This core").click()
    tablet.page.get_by_role("button", name="Show its stacks").click()
    expect(tablet.page.get_by_role("table", name="Pins, from the key upwards")).to_be_visible()
    withdraws = dict(core.turns.values_list("symbol__symbol", "withdraws"))
    for group in tablet.page.locator("main fieldset").all():
        symbol = group.locator("legend").inner_text().split(",")[0]
        does = "Takes the core out" if withdraws.get(symbol) else "Turns the core"
        group.get_by_label(does if symbol in withdraws else "Does nothing").check()
    tablet.page.get_by_label("Tag on the core, once more").fill(core.tag)
    tablet.page.get_by_role("button", name="Keep what they did").click()
    expect(tablet.page.get_by_text("is tried and may leave the bench")).to_be_visible()


def swap(tablet: Tablet, core: Core, housing: Housing) -> None:
    tablet.go(f"/orders/new/swap/?door={housing.door_id}")
    tablet.page.get_by_label("What is it for?").fill("A new core")
    tablet.page.get_by_role("checkbox").first.check()
    tablet.page.get_by_role("button", name="Go to the swap").click()
    tablet.page.get_by_label("Tag on the core").fill(core.tag)
    tablet.page.get_by_role("button", name="This core goes in").click()
    tablet.page.get_by_label("On the bench, to be pinned again").check()
    expect(tablet.page.get_by_role("checkbox")).to_have_count(3)
    for box in tablet.page.get_by_role("checkbox").all():
        box.check()
    tablet.page.get_by_role("button", name="Finish the swap").click()
    expect(tablet.page.get_by_text("Every check was good")).to_be_visible()


@pytest.mark.parametrize("format_id", FORMATS)
def test_from_a_new_core_to_a_swapped_one(estate: None, tablet: Tablet, format_id: str) -> None:
    system = KeySystem.objects.filter(format_id=format_id).order_by("code")[0]
    housing, key = a_housing_of(system), a_spare_key_of(system)
    tablet.sign_in("locksmith")
    core = register(tablet, system, housing, key)
    pin(tablet, core)
    try_out(tablet, core)
    swap(tablet, core, housing)
    core.refresh_from_db()
    assert core.housing == housing
    assert core.turns.filter(symbol=key, operates=True).exists()
    assert WorkOrder.objects.filter(lines__core=core, state=WorkOrder.State.DONE).count() == 2
    assert tablet.complaints == []
