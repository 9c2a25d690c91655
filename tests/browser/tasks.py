"""The main tasks, as what hands do from the page where the work comes up to the sentence that it is done."""

from collections.abc import Callable
from dataclasses import dataclass

from playwright.sync_api import expect

from keyctl.approvals.models import KeyRequest
from keyctl.cores.models import Core
from keyctl.desk.models import Tray
from keyctl.keys.models import Cabinet, Holder, KeyCopy
from keyctl.orders.models import OrderLine, WorkOrder
from keyctl.orders.selectors import keys_to_try
from keyctl.places.models import Door, Housing, Site
from keyctl.systems.models import KeySymbol, KeySystem
from tests.browser.acts import Fingers, Keyboard

Hands = Fingers | Keyboard
Path = str


@dataclass(frozen=True)
class Task:
    """``at_most`` acts is a promise for both ways; ``begin`` leads to where the person stands then."""

    name: str
    begins: str
    person: str
    begin: Callable[[], Path]
    do: Callable[[Hands], None]
    at_most: int


def site() -> Site:
    return Site.objects.order_by("code")[0]


def empty_list(way: str) -> Path:
    """The desk as the last person left it: with nothing on the list."""
    Tray.objects.all().delete()
    return f"/desk/sites/{site().pk}/{way}/"


def three_keys(**facts: object) -> list[KeyCopy]:
    """Plain keys of the first site that lie ready, or are out, as asked."""
    found = KeyCopy.objects.filter(site=site(), symbol__kind=KeySymbol.Kind.CHANGE, **facts)
    return list(
        found.exclude(symbol__turns__core__housing__door__door_class="critical").order_by("serial")[:3]
    )


def issue(hands: Hands) -> None:
    holder = Holder.objects.filter(site=site(), user=None, is_active=True).order_by("name")[0]
    for text in (holder.email, *(copy.serial for copy in three_keys(state=KeyCopy.State.IN_CABINET))):
        hands.scan(text)
    expect(hands.page.get_by_text("3 keys on the list")).to_be_visible()
    hands.go_on()
    hands.sign(holder.name)
    hands.press(hands.page.get_by_role("button", name="Hand them out"))
    expect(hands.page.get_by_text("Handed out, no.")).to_be_visible()


def take_back(hands: Hands) -> None:
    for copy in three_keys(state=KeyCopy.State.HELD):
        hands.scan(copy.serial)
    expect(hands.page.get_by_text("3 keys on the list")).to_be_visible()
    hands.go_on()
    cabinet = Cabinet.objects.filter(site=site()).order_by("name")[0]
    hands.choose(hands.page.get_by_label("Into the cabinet"), str(cabinet))
    hands.press(hands.page.get_by_role("button", name="Take them back"))
    expect(hands.page.get_by_text("Returned, no.")).to_be_visible()


def swap_line() -> OrderLine:
    lines = OrderLine.objects.filter(order__kind=WorkOrder.Kind.SWAP, order__part_of=None, state="open")
    return lines.filter(order__case_order=None).order_by("order__number", "ordinal")[0]


def swap(hands: Hands) -> None:
    line, page = swap_line(), hands.page
    assert line.housing is not None
    spare = Core.objects.filter(
        site=line.order.site,
        place__in=["shelf", "bench"],
        construction=line.housing.construction,
        pinning__isnull=False,
    ).exclude(order_lines__state="open")
    core = spare.exclude(order_lines__trying="owed").order_by("tag")[0]
    hands.press(page.get_by_role("link", name=f"Swap at {line.housing}", exact=True))
    expect(page.get_by_label("Tag on the core")).to_be_focused()
    hands.scan(core.tag)
    expect(page.get_by_role("heading", name="2. Exchange")).to_be_visible()
    for box in page.get_by_role("checkbox").all():
        hands.tick(box)
    hands.press(page.get_by_role("button", name="Finish the swap"))
    expect(page.get_by_text("Every check was good")).to_be_visible()


def asked() -> KeyRequest:
    return KeyRequest.objects.filter(state=KeyRequest.State.ASKED).order_by("asked_at")[0]


def decide(hands: Hands) -> None:
    page = hands.page
    hands.press(page.locator(f'a[href="/requests/{asked().pk}/"]'))
    expect(page.get_by_text("Beyond those asked").first).to_be_visible()
    hands.tick(page.get_by_role("radio").first)
    hands.press(page.get_by_role("button", name="Approve the chosen keys"))
    expect(page.locator("#messages")).to_contain_text("Approved")


def ask(hands: Hands) -> None:
    page = hands.page
    door = Door.objects.filter(floor__building__site=site(), housings__cores__isnull=False).order_by(
        "number"
    )[0]
    hands.press(page.get_by_role("link", name="Ask for a key").first)
    hands.press(page.locator(f'main a[href="/requests/ask/{door.floor.building_id}/"]'))
    hands.enter(page.get_by_label("Find doors"), door.number)
    expect(page.locator("#doors").get_by_role("checkbox")).to_have_count(1)
    hands.tick(page.locator("#doors").get_by_role("checkbox"))
    expect(page.locator("#preview")).to_contain_text("1 key")
    hands.enter(page.get_by_label("What for"), "Evening course")
    hands.press(page.get_by_role("button", name="Ask for the key"))
    expect(page.locator("main")).to_contain_text("Waiting for a decision")


def pin_line() -> OrderLine:
    lines = OrderLine.objects.filter(order__kind=WorkOrder.Kind.PIN, state="open")
    return lines.order_by("order__number", "ordinal")[0]


def pin(hands: Hands) -> None:
    """Pinned in the records and built by its stacks; then tried with each key that lies ready."""
    line, page = pin_line(), hands.page
    core = line.core
    assert core is not None
    hands.press(page.get_by_role("link", name="At the bench"))
    expect(page.get_by_label("Tag on the core")).to_be_focused()
    hands.scan(core.tag)
    hands.press(page.get_by_role("button", name="Pin it in the records"))
    hands.press(page.get_by_role("button", name="Show its stacks"))
    expect(page.locator(".secret svg").first).to_be_visible()
    own = keys_to_try(core)[0]
    hands.tick(page.get_by_role("group", name=str(own)).get_by_label("Turns the core"))
    hands.enter(page.get_by_label("Tag on the core, once more"), core.tag)
    hands.press(page.get_by_role("button", name="Keep what they did"))
    expect(page.locator("#messages")).to_contain_text("is tried and may leave the bench")


def lost_copy() -> KeyCopy:
    return three_keys(state=KeyCopy.State.HELD)[2]


def report_lost(hands: Hands) -> None:
    copy, page = lost_copy(), hands.page
    hands.press(page.get_by_role("link", name="Report lost"))
    hands.enter(page.get_by_label("What happened"), "Not in its place since the morning")
    hands.press(page.get_by_role("button", name="Report the key lost"))
    hands.press(page.get_by_role("dialog").get_by_role("button", name="Report the key lost"))
    expect(page.locator("#messages")).to_contain_text(f"Copy {copy} is reported lost")


def count(hands: Hands) -> None:
    """Three keys are scanned; a real cabinet takes one more scan for each of its keys."""
    page = hands.page
    hands.press(page.get_by_role("link", name="Count Key room"))
    hands.press(page.get_by_role("button", name="Begin to count"))
    expect(page.locator("form[data-scanning] input[name=text]")).to_be_focused()
    cabinet = Cabinet.objects.get(site=site(), name="Key room")
    for copy in KeyCopy.objects.filter(cabinet=cabinet).order_by("serial")[:3]:
        hands.scan(str(copy))
    expect(page.locator("#scanned dd")).to_have_text("3")
    hands.press(page.get_by_role("link", name="Finish"))
    hands.press(page.get_by_role("button", name="Close the count"))
    hands.press(page.get_by_role("dialog").get_by_role("button", name="Close the count"))
    expect(page.get_by_text("Closed. Differences:")).to_be_visible()


def find(hands: Hands) -> None:
    door = Door.objects.filter(floor__building__site=site(), housings__cores__isnull=False).order_by(
        "number"
    )[3]
    page = hands.page
    hands.enter(page.get_by_label("Find a door or a core"), door.number)
    link = page.locator(f'#doors a[href="/estate/doors/{door.pk}/"]').first
    hands.press(link)
    expect(page.get_by_text("Who can open it").first).to_be_visible()


def quiet_housings() -> list[Housing]:
    """Two of a floor that no open order speaks of, and which the first system's cores fit."""
    system = KeySystem.objects.filter(sites=site()).order_by("code")[0]
    found = Housing.objects.filter(door__floor__building__site=site(), cores__system=system)
    found = found.exclude(order_lines__state="open").select_related("door__floor__building")
    ordered = list(found.order_by("door__floor__building__code", "door__floor__level", "door__number"))
    return [each for each in ordered if each.door.floor_id == ordered[0].door.floor_id][:2]


def rekey(hands: Hands) -> None:
    page, housings = hands.page, quiet_housings()
    floor = housings[0].door.floor
    hands.press(page.get_by_role("link", name="Rekey an area"))
    hands.enter(page.get_by_label("What is it for?"), "New tenant")
    hands.choose(page.get_by_label("Building or floor"), f"{floor.building}, {floor.label}")
    hands.enter(page.get_by_label("Only these doors"), " ".join(each.door.number for each in housings))
    hands.enter(page.get_by_label("Keys that shall turn them"), "AA1")
    hands.press(page.get_by_role("button", name="Open the order"))
    expect(page.get_by_role("heading", level=1)).to_contain_text("New tenant")


TASKS = [
    Task("Issue three keys", "Hand out keys", "key-desk", lambda: empty_list("issue"), issue, 8),
    Task(
        "Take three keys back",
        "Take keys back",
        "key-desk",
        lambda: empty_list("return"),
        take_back,
        6,
    ),
    Task(
        "Report a key lost",
        "the copy’s page",
        "key-desk",
        lambda: f"/keys/copies/{lost_copy().pk}/",
        report_lost,
        4,
    ),
    Task("Count a cabinet of three keys", "Counts", "locksmith", lambda: "/counts/", count, 8),
    Task("Ask for a key", "Requests for keys", "requester", lambda: "/requests/", ask, 8),
    Task("Decide a request", "Requests for keys", "manager", lambda: "/requests/", decide, 3),
    Task(
        "Pin a core and try it",
        "the order’s page",
        "locksmith",
        lambda: f"/orders/{pin_line().order_id}/",
        pin,
        8,
    ),
    Task(
        "Swap a core at a door",
        "the order’s page",
        "locksmith",
        lambda: f"/orders/{swap_line().order_id}/",
        swap,
        6,
    ),
    Task("Find a door and see who opens it", "Estate", "locksmith", lambda: "/estate/", find, 3),
    Task("Order an area rekeyed", "Work orders", "locksmith", lambda: "/orders/", rekey, 8),
]
