"""The pages that each person sees on a round through the product, and what they do there first."""

from collections.abc import Callable, Iterator
from typing import Any

from keyctl.accounts.models import User
from keyctl.approvals.models import KeyRequest
from keyctl.cores.models import Core
from keyctl.cores.turning import pins_of
from keyctl.exposure.models import CoreExposure
from keyctl.inherited.services import bring_list, start_check
from keyctl.keys.models import KeyCopy
from keyctl.orders.models import OrderLine, WorkOrder
from keyctl.places.models import Building, Site
from keyctl.reveals.models import Permission
from keyctl.systems.models import KeySymbol, KeySystem
from keyctl.versions.models import SystemVersion
from tests.browser import rounds_of_keys as keys
from tests.browser.conftest import Tablet
from tests.browser.rounds_of_field import field_paths
from tests.factories import make_draft
from tests.jobs import finish
from tests.keyctl.bench.tray import in_inches, tray_of

Act = Callable[[Tablet], None]
Stop = tuple[str, str, Act | None]


def show_the_pins(tablet: Tablet) -> None:
    tablet.page.get_by_role("button", name="Show the pinning").click()
    tablet.page.locator(".secret svg").wait_for()


def look_at_the_effect(tablet: Tablet) -> None:
    tablet.page.get_by_text("Beyond those asked").first.scroll_into_view_if_needed()


def open_a_branch(tablet: Tablet) -> None:
    tablet.page.locator("details details summary").first.click()
    tablet.page.locator("details details details").first.wait_for()


def show_near_misses(tablet: Tablet) -> None:
    tablet.page.get_by_role("button", name="Show the near misses").click()
    tablet.page.locator(".secret table").wait_for()


def exposure_round() -> Iterator[Stop]:
    near = CoreExposure.objects.filter(near_turning__gt=0).select_related("core").order_by("-near_turning")[0]
    yield "exposure", "/exposure/", None
    yield "exposure-site", f"/exposure/sites/{near.core.site_id}/", None
    yield "exposure-cuts", f"/exposure/sites/{near.core.site_id}/cuts/", None
    yield "exposure-system", f"/exposure/systems/{near.core.system_id}/", None
    yield "exposure-core", f"/exposure/cores/{near.core_id}/", show_near_misses


def charts_round() -> Iterator[Stop]:
    core = Core.objects.filter(housing__isnull=False, system__levels=4).order_by("tag")[0]
    assert core.housing is not None
    door = core.housing.door
    version = SystemVersion.objects.get(system=core.system)
    top = KeySymbol.objects.get(system=core.system, level=0)
    yield "chart-key", f"/systems/keys/{top.pk}/chart/", None
    yield "chart-building", f"/estate/buildings/{door.floor.building_id}/chart/", None
    yield "chart-door", f"/estate/doors/{door.pk}/chart/", None
    yield "versions", f"/systems/{version.system_id}/versions/", None
    yield "versions-compared", f"/systems/versions/{version.pk}/compare/", None


def systems_round() -> Iterator[Stop]:
    system = KeySystem.objects.get(levels=4)
    site, actor = system.sites.all()[0], User.objects.get(username="locksmith")
    draft = make_draft(site, actor=actor, needs=(4, 16, 64), keyway=system.keyway)
    master = system.symbols.get(symbol="AA")
    yield "design-system", "/systems/drafts/new/", None
    yield "draft", f"/systems/drafts/{draft.pk}/", None
    yield "unused-keys", f"/systems/{system.pk}/?show=unused&level=3", None
    yield "capacity", f"/systems/{system.pk}/capacity/", None
    yield "extend", f"/systems/keys/{master.pk}/extend/", look_at_the_plan


def look_at_the_plan(tablet: Tablet) -> None:
    tablet.page.get_by_role("button", name="Look at it first").click()
    tablet.page.get_by_role("button", name="Make 1 key").wait_for()


def locksmiths_round() -> Iterator[Stop]:
    yield from estate_round()
    yield from systems_round()
    yield from charts_round()
    yield from exposure_round()
    yield from inherited_round()
    yield from bench_round()
    yield from plainly(keys.interim_paths())
    yield from plainly(field_paths())


def plainly(paths: Iterator[keys.Path]) -> Iterator[Stop]:
    """Looked at as they open."""
    for name, path in paths:
        yield name, path, None


def inherited_round() -> Iterator[Stop]:
    """A list with every kind of finding, and a system made out from cores on record."""
    core = Core.objects.filter(format_id="small-a2-7", pinning__isnull=False).select_related("site")[0]
    site, actor = core.site, User.objects.get(username="locksmith")
    facts: dict[str, Any] = {"code": "OLD", "system_name": "The old house", "keyway": "WOLD"}
    content = b"Key symbol,Bitting,Master\nAA,1234567,\n1AA,123456,AA\n2AA,3456789,AB\n"
    facts |= {"format_id": "small-a2-7", "name": "old house.csv", "content": content}
    listed = bring_list(actor=actor, site=site, **facts)
    finish(start_check(actor=actor, listed=listed, version=listed.version))
    yield "inherited", "/inherited/", None
    yield "bring-list", "/inherited/bring/", None
    yield "list-columns", f"/inherited/lists/{listed.pk}/columns/", None
    yield "list-findings", f"/inherited/lists/{listed.pk}/", None
    yield "choose-cores", "/inherited/reconstruct/", None
    yield "reconstruct", f"/inherited/reconstruct/{site.pk}/?format=small-a2-7", make_out(site)


def make_out(site: Site) -> Act:
    cores = Core.objects.filter(format_id="small-a2-7", site=site, pinning__isnull=False).order_by("pk")
    tags = [core.tag for core in cores[:20]]

    def act(tablet: Tablet) -> None:
        tablet.page.get_by_label("Tags of other cores").fill(", ".join(tags))
        tablet.page.get_by_label("Why do you need to see this?").fill("No papers came with the house")
        tablet.page.get_by_role("button", name="Reconstruct").click()
        tablet.page.locator(".secret table").first.wait_for()

    return act


def estate_round() -> Iterator[Stop]:
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
    yield "new-cut", "/orders/new/cut/", None
    yield "register", "/estate/cores/new/", None
    yield "design", "/design/", None


def bench_round() -> Iterator[Stop]:
    core = Core.objects.filter(format_id="small-a2-7", place=Core.Place.SHELF).order_by("tag")[0]
    site = Site.objects.order_by("code")[0]
    yield "bench", "/bench/", None
    yield "read-pins", f"/bench/pins/?core={core.pk}", enter(tray_of(core), "Read the pins")
    yield "measure", f"/bench/measure/?core={core.pk}", enter(lengths_of(core), "Show the residuals")
    yield "read-key", f"/bench/key/?system={core.system_id}&format=", None
    yield "try-key", f"/bench/try/?core={core.pk}", enter({"symbol": "GGM"}, "Try the key")
    yield "repin", f"/bench/repin/{core.pk}/", None
    yield "stock", f"/stock/sites/{site.pk}/", None
    yield "reorder", f"/stock/sites/{site.pk}/reorder/", None
    yield "recovery", "/recovery/", None
    yield "lost-control-key", "/recovery/new/", None
    yield "control-blanks", "/recovery/blanks/", None
    yield "formats", "/formats/", None
    yield "format", "/formats/large-sleeve-2345/", None


def lengths_of(core: Core) -> dict[str, str]:
    return in_inches(pins_of(core))


def enter(facts: dict[str, str], button: str) -> Act:
    """Fill the fields in by their names and send the form."""

    def act(tablet: Tablet) -> None:
        for name, text in facts.items():
            field = tablet.page.locator(f"input[name={name}]:not([type=radio]):not([type=hidden])")
            if field.count():
                field.first.fill(text)
        tablet.page.get_by_role("button", name=button, exact=True).click()
        tablet.page.locator(".secret").first.wait_for()

    return act


def desks_round() -> Iterator[Stop]:
    copy = KeyCopy.objects.filter(state=KeyCopy.State.HELD).order_by("serial")[0]
    yield "desk", "/keys/", None
    yield "copy", f"/keys/copies/{copy.pk}/", None
    yield "take-back", f"/keys/copies/{copy.pk}/take-back/", None
    yield "lost", f"/keys/copies/{copy.pk}/lost/", None
    yield "holder", f"/keys/holders/{copy.holder_id}/", None
    yield "cut", f"/keys/sites/{copy.site_id}/cut/", None
    yield from plainly(keys.desk_paths())


def managers_round() -> Iterator[Stop]:
    asked = max(KeyRequest.objects.all(), key=lambda each: each.doors.count())
    yield "requests", "/requests/", None
    yield "request", f"/requests/{asked.pk}/", look_at_the_effect
    yield from plainly(keys.requests_paths())


def looks_round() -> Iterator[Stop]:
    waiting = Permission.objects.filter(kind="key").earliest("asked_at")
    yield "looks", "/reveals/", None
    yield "look-asked", f"/reveals/{waiting.pk}/", None


def officers_round() -> Iterator[Stop]:
    yield from looks_round()
    yield "all-looks", "/reveals/all/", None
    yield from plainly(keys.losses_paths())


def requesters_round() -> Iterator[Stop]:
    yield "ask", "/requests/ask/", None
    yield "ask-building", f"/requests/ask/{Building.objects.all()[0].pk}/", None
    yield "me", "/account/me/", None
    yield from plainly(keys.own_paths())


def administrators_round() -> Iterator[Stop]:
    yield "look-limits", f"/reveals/limits/{Site.objects.order_by('code')[0].pk}/", None
    yield "tokens", "/api/tokens/", None
    yield "places", "/places/", None
    yield "building", f"/places/buildings/{Building.objects.all()[0].pk}/", None
    yield "people", "/places/people/", None
    yield "new-format", "/formats/new/?copy=large-sleeve-34", None
    yield from plainly(keys.people_paths())


ROUNDS = {
    "locksmith": locksmiths_round,
    "key-desk": desks_round,
    "manager": managers_round,
    "requester": requesters_round,
    "officer": officers_round,
    "administrator": administrators_round,
}
