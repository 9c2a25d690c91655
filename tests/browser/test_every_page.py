"""Every kind of page at tablet and phone size, in both themes: nothing sticks out, nothing complains.

``KEYCTL_PICTURES=folder`` also keeps the pictures; those in README.md are made this way.
"""

import os
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from keyctl.approvals.models import KeyRequest
from keyctl.cores.models import Core
from keyctl.keys.models import KeyCopy
from keyctl.orders.models import OrderLine, WorkOrder
from keyctl.places.models import Building
from keyctl.systems.models import KeySymbol, KeySystem
from tests.browser.conftest import PHONE, TABLET, Tablet

SIDEWAYS = "document.documentElement.scrollWidth - window.innerWidth"
SMALL_CONTROLS = """[...document.querySelectorAll('main :is(button, select, a.button, input)')]
  .filter(it => !['checkbox', 'radio', 'hidden'].includes(it.type))
  .filter(it => it.checkVisibility() && it.offsetHeight < 47)
  .map(it => it.outerHTML.slice(0, 80))"""

Act = Callable[[Tablet], None]
Stop = tuple[str, str, Act | None]


def show_the_pins(tablet: Tablet) -> None:
    tablet.page.get_by_label("Why do you need to see it?").select_option(index=1)
    tablet.page.get_by_role("button", name="Show the pinning").click()
    tablet.page.locator(".secret svg").wait_for()


def look_at_the_effect(tablet: Tablet) -> None:
    tablet.page.get_by_text("Beyond those asked").first.scroll_into_view_if_needed()


def open_a_branch(tablet: Tablet) -> None:
    tablet.page.locator("details details summary").first.click()
    tablet.page.locator("details details details").first.wait_for()


def locksmiths_round() -> Iterator[Stop]:
    core = Core.objects.filter(housing__door__is_egress=True, format_id="small-a2-7").order_by("tag")[0]
    plain = Core.objects.filter(housing__isnull=False, format_id="fixed-6").order_by("tag")[0]
    assert core.housing is not None
    line = OrderLine.objects.filter(order__kind=WorkOrder.Kind.SWAP).order_by("ordinal")[0]
    yield "estate", "/estate/", None
    yield "door", f"/estate/doors/{core.housing.door_id}/", None
    yield "core", f"/estate/cores/{core.pk}/", show_the_pins
    yield "cylinder", f"/estate/cores/{plain.pk}/", show_the_pins
    yield "systems", "/systems/", None
    yield "system", f"/systems/{KeySystem.objects.get(levels=4).pk}/", open_a_branch
    yield "key", f"/systems/keys/{KeySymbol.objects.filter(symbol='AA1')[0].pk}/", None
    yield "orders", "/orders/", None
    for order in WorkOrder.objects.all():
        yield f"order-{order.kind}-{order.state}", f"/orders/{order.pk}/", None
    yield "new-pin", "/orders/new/pin/", None
    yield "new-swap", "/orders/new/swap/", None
    yield "swap", f"/orders/lines/{line.pk}/swap/", None
    yield "design", "/design/", None


def desks_round() -> Iterator[Stop]:
    copy = KeyCopy.objects.filter(state=KeyCopy.State.HELD).order_by("serial")[0]
    yield "desk", "/keys/", None
    yield "copy", f"/keys/copies/{copy.pk}/", None
    yield "take-back", f"/keys/copies/{copy.pk}/take-back/", None
    yield "lost", f"/keys/copies/{copy.pk}/lost/", None
    yield "holder", f"/keys/holders/{copy.holder_id}/", None
    yield "cut", f"/keys/sites/{copy.site_id}/cut/", None


def managers_round() -> Iterator[Stop]:
    asked = max(KeyRequest.objects.all(), key=lambda each: each.doors.count())
    yield "requests", "/requests/", None
    yield "request", f"/requests/{asked.pk}/", look_at_the_effect


def requesters_round() -> Iterator[Stop]:
    yield "ask", "/requests/ask/", None
    yield "ask-building", f"/requests/ask/{Building.objects.all()[0].pk}/", None
    yield "me", "/account/me/", None


def administrators_round() -> Iterator[Stop]:
    yield "tokens", "/api/tokens/", None


ROUNDS = {
    "locksmith": locksmiths_round,
    "key-desk": desks_round,
    "manager": managers_round,
    "requester": requesters_round,
    "administrator": administrators_round,
}


@pytest.mark.parametrize(
    ("size", "theme"), [("tablet", "light"), ("phone", "light"), ("tablet", "dark"), ("phone", "dark")]
)
def test_nothing_sticks_out_and_nothing_complains(
    estate: None, open_tablet: Callable[..., Tablet], size: str, theme: str
) -> None:
    found = {}
    for person, stops in ROUNDS.items():
        tablet = open_tablet(viewport=TABLET if size == "tablet" else PHONE, color_scheme=theme)
        tablet.sign_in(person)
        for name, path, act in stops():
            visit(tablet, path, act)
            keep_picture(tablet, f"{name}-{size}-{theme}")
            if faults := faults_of(tablet):
                found[name] = faults
    assert found == {}


def visit(tablet: Tablet, path: str, act: Act | None) -> None:
    tablet.go(path)
    if act is not None:
        act(tablet)
    tablet.page.wait_for_load_state("networkidle")


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
