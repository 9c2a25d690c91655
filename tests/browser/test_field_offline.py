"""The field app without a network and with one that fails: everything arrives, and it arrives once."""

import json
from collections.abc import Callable
from pathlib import Path

import pytest
from playwright.sync_api import Request, Route, expect

from keyctl.accounts.models import Session
from keyctl.cores import services as cores
from keyctl.cores.models import Core
from keyctl.field.models import FieldEvent, ReconcileCase
from keyctl.orders.models import OrderLine
from keyctl.places.roles import Role
from tests.browser.conftest import Tablet
from tests.browser.fieldwork import Hand, Round, lay_out, open_hand
from tests.factories import make_user


@pytest.fixture
def work(transactional_db: None) -> Round:
    return lay_out(3)


@pytest.fixture
def hand(open_tablet: Callable[..., Tablet], work: Round) -> Hand:
    return open_hand(open_tablet)


def done(work: Round) -> list[bool]:
    """Line by line, whether the register has the planned core in its door, exactly once."""
    inside = set(Core.objects.filter(housing__isnull=False).values_list("housing", "pk"))
    return [
        line.state == OrderLine.State.DONE and (line.housing_id, line.core_id) in inside
        for line in work.lines
    ]


def test_ten_swaps_without_a_network_are_all_there_once(
    open_tablet: Callable[..., Tablet], transactional_db: None
) -> None:
    work = lay_out(10)
    hand = open_hand(open_tablet)
    hand.context.set_offline(True)
    for line in work.lines:
        hand.swap(line)
    hand.sees("10")
    hand.page.goto(f"{hand.tablet.url}/field/")
    # What was done shows after the reload, too, and nothing of it is in the register yet.
    expect(hand.page.get_by_text("Done, not sent")).to_have_count(10)
    hand.sees("10")
    assert FieldEvent.objects.count() == 0
    question = hand.sign_out()
    expect(question).to_contain_text("10 acts are not sent yet")
    question.get_by_role("button", name="Sign out").click()
    expect(hand.page.locator("#banner")).to_contain_text("10 acts wait on this tablet")
    # Only the acts are left: no door, no other core.
    assert str(work.doors[0].tag) not in hand.held()

    hand.context.set_offline(False)
    hand.page.get_by_role("button", name="Sign in", exact=True).click()
    hand.fill_sign_in()
    hand.sees("all sent")
    assert done(work) == [True] * 10
    assert FieldEvent.objects.count() == 10
    assert list(FieldEvent.objects.values_list("sequence", flat=True).order_by("sequence")) == list(
        range(1, 11)
    )
    assert set(FieldEvent.objects.values_list("outcome", flat=True)) == {"applied"}
    # Each core moved once and no more: the register counts it in its version.
    for core in (*work.inside, *work.spares):
        assert Core.objects.get(pk=core.pk).version == core.version + 1


def test_an_answer_that_is_lost_is_asked_for_again_and_doubles_nothing(hand: Hand, work: Round) -> None:
    lost: list[str] = []

    def lose_once(route: Route) -> None:
        if lost:
            return route.continue_()
        lost.append(route.request.post_data or "")
        # The server has done it; the tablet never hears of it.
        route.fetch()
        return route.abort()

    hand.page.route("**/field/events/", lose_once)
    hand.swap(work.lines[0])
    expect(hand.page.locator("[data-who]")).to_have_text("No network")
    assert FieldEvent.objects.count() == 1
    hand.sees("not sent")
    hand.send()
    hand.sees("all sent")
    assert json.loads(lost[0])["events"][0]["event_id"] == str(FieldEvent.objects.get().pk)
    assert done(work) == [True, False, False]
    core = Core.objects.get(pk=work.spares[0].pk)
    assert core.version == work.spares[0].version + 1


def test_a_contradiction_is_shown_on_the_tablet_and_settled_on_its_page(hand: Hand, work: Round) -> None:
    hand.context.set_offline(True)
    hand.swap(work.lines[0])
    # Meanwhile somebody else takes the planned core to the bench, in the register.
    spare = Core.objects.get(pk=work.spares[0].pk)
    cores.move_core(actor=work.cast.locksmith, core=spare, version=spare.version, place=Core.Place.BENCH)
    hand.context.set_offline(False)
    hand.send()
    hand.sees("1 to settle")
    expect(hand.page.get_by_role("listitem").get_by_text("To be settled", exact=True)).to_be_visible()
    hand.page.get_by_role("link", name="Open the case (online)").click()
    expect(hand.page.get_by_role("heading", name="Settle it")).to_be_visible()
    # What was seen: the planned core is in the door, and the one that was there is in the case.
    seen = {work.spares[0]: f"In {work.housings[0]}", work.inside[0]: "In the case of Locksmith"}
    for core, where in seen.items():
        fact = hand.page.get_by_role("group", name=f"Core {core}")
        fact.get_by_label("Where it really is").select_option(where)
    hand.page.get_by_label("How it is known").fill("Looked at the door together.")
    hand.page.get_by_role("button", name="Settle the case").click()
    expect(hand.page.get_by_role("heading", name="The decision")).to_be_visible()
    assert ReconcileCase.objects.get().settled_at
    assert not Core.objects.filter(disputed_at__isnull=False).exists()
    assert Core.objects.get(pk=work.spares[0].pk).housing == work.housings[0]


def test_an_ended_sign_in_keeps_what_was_written_and_a_colleague_sends_it(hand: Hand, work: Round) -> None:
    make_user("colleague", site=work.cast.north, role=Role.LOCKSMITH)
    Session.objects.all().delete()
    hand.swap(work.lines[0])
    expect(hand.page.locator("#banner")).to_contain_text("1 act waits on this tablet")
    hand.sees("not sent")
    hand.page.get_by_role("button", name="Sign in", exact=True).click()
    hand.fill_sign_in("colleague")
    hand.sees("all sent")
    assert done(work)[0]
    # Whoever sends it, it stays the act of whoever did it.
    assert FieldEvent.objects.get().person == work.cast.locksmith


def test_two_tabs_at_once_send_once(hand: Hand, work: Round) -> None:
    other = Hand(hand.tablet, hand.context.new_page())
    other.page.goto(f"{hand.tablet.url}/field/")
    expect(other.page.get_by_role("heading", name="Orders", exact=True)).to_be_visible()
    hand.page.bring_to_front()
    hand.context.set_offline(True)
    for line in work.lines[:2]:
        hand.swap(line)
    other.sees("2")
    sent: list[int] = []

    def count(request: Request) -> None:
        if request.url.endswith("/events/"):
            sent.append(len(json.loads(request.post_data or "")["events"]))

    hand.context.on("request", count)
    hand.context.set_offline(False)
    for page in (hand.page, other.page):
        page.evaluate("window.dispatchEvent(new Event('online'))")
    for each in (hand, other):
        each.sees("all sent")
    assert sent == [2]
    assert done(work) == [True, True, False]


def test_the_outbox_goes_by_file_as_well_and_nothing_is_doubled(
    hand: Hand, work: Round, tmp_path: Path
) -> None:
    hand.context.set_offline(True)
    for line in work.lines[:2]:
        hand.swap(line)
    hand.open("#/outbox")
    with hand.page.expect_download() as download:
        hand.page.get_by_role("button", name="Export to a file").click()
    file = tmp_path / "outbox.json"
    download.value.save_as(file)
    assert [event["sequence"] for event in json.loads(file.read_text())["events"]] == [1, 2]

    # Another computer of the same person, whose network works.
    computer = hand.context.browser.new_context() if hand.context.browser else None
    assert computer
    try:
        desk = Hand(Tablet(computer.new_page(), hand.tablet.url))
        desk.sign_in()
        desk.tablet.go("/field/hand-in/")
        desk.page.get_by_label("The file").set_input_files(file)
        desk.page.get_by_role("button", name="Hand it in").click()
        expect(desk.page.get_by_text("2 events")).to_be_visible()
    finally:
        computer.close()
    hand.sees("not sent")
    hand.context.set_offline(False)
    hand.send()
    hand.sees("all sent")
    assert FieldEvent.objects.count() == 2
    assert done(work)[:2] == [True, True]


@pytest.mark.parametrize("fault", ["QuotaExceededError", "UnknownError"])
def test_what_the_tablet_could_not_keep_is_not_shown_as_done(hand: Hand, work: Round, fault: str) -> None:
    hand.page.evaluate(
        "name => { IDBObjectStore.prototype.add = () => { throw new DOMException('no room', name); }; }",
        fault,
    )
    line = work.lines[0]
    hand.open_swap(line)
    hand.choose("goes in", str(line.core))
    hand.choose("came out", str(work.inside[0]))
    hand.check_all()
    hand.page.get_by_role("button", name="The swap is done").click()
    expect(hand.page.get_by_role("alert")).to_contain_text("This was not kept")
    expect(hand.page.get_by_role("heading", name="Swap at 01")).to_be_visible()
    hand.sees("all sent")
    assert FieldEvent.objects.count() == 0
