"""A change key, a building's master and a top master are lost; each goes from report to proof."""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Self

import pytest
from playwright.sync_api import expect

from keyctl.accounts.models import User
from keyctl.cores.models import Core, Turn
from keyctl.jobs.models import Job
from keyctl.keys.models import KeyCopy
from keyctl.losses.models import LossCase
from keyctl.orders.models import OrderLine, WorkOrder
from keyctl.orders.services import let_go_untried
from keyctl.systems.models import KeySymbol
from tests.browser.conftest import Tablet
from tests.jobs import finish

# A small system with all levels, whose cores are few enough to be worked door by door.
PLANT = "large-sleeve-34"


@dataclass
class House:
    """Who works on a loss, each with their own tablet."""

    desk: Tablet
    officer: Tablet
    locksmith: Tablet

    @classmethod
    def of(cls, open_tablet: Callable[..., Tablet]) -> Self:
        tablets = {name: open_tablet() for name in ("key-desk", "officer", "locksmith")}
        for name, tablet in tablets.items():
            tablet.sign_in(name)
        return cls(*tablets.values())

    @property
    def complaints(self) -> list[str]:
        return [*self.desk.complaints, *self.officer.complaints, *self.locksmith.complaints]


@pytest.fixture
def house(estate: None, open_tablet: Callable[..., Tablet]) -> House:
    return House.of(open_tablet)


def go_on(tablet: Tablet, button: str) -> None:
    tablet.page.get_by_role("button", name=button).first.click()
    with tablet.page.expect_navigation():
        tablet.page.get_by_role("dialog").get_by_role("button").last.click()


def press(tablet: Tablet, button: str) -> None:
    with tablet.page.expect_navigation():
        tablet.page.get_by_role("button", name=button).first.click()


def do_jobs() -> None:
    """What a worker would do; none runs beside the test."""
    for job in Job.objects.unfinished().order_by("asked_at"):
        assert finish(job).state == Job.State.DONE, job.label


def copy_of(level: int, kind: str, format_id: str) -> KeyCopy:
    """One at hand of a key that turns cores in doors, and of which no copy is or ever was lost."""
    found = KeySymbol.objects.filter(level=level, kind=kind, system__format_id=format_id)
    found = found.filter(turns__core__place=Core.Place.HOUSING).exclude(copies__state=KeyCopy.State.LOST)
    found = found.exclude(losses__isnull=False)
    copies = KeyCopy.objects.filter(symbol__in=found, state__in=["held", "in-cabinet"])
    return copies.select_related("symbol").order_by("symbol__system__code", "symbol__symbol", "serial")[0]


def report(house: House, copy: KeyCopy) -> LossCase:
    house.desk.go(f"/keys/copies/{copy.pk}/lost/")
    house.desk.page.get_by_label("What happened").fill("Not in its place since the morning")
    go_on(house.desk, "Report the key lost")
    return LossCase.objects.get(lost_copies__copy=copy)


def look_at_the_doors(house: House, case: LossCase, copy: KeyCopy) -> None:
    """The page tells as many cores as the pins let the key into."""
    cores = Turn.objects.filter(symbol=copy.symbol).exclude(core__place=Core.Place.GONE)
    count = cores.values("core").distinct().count()
    house.officer.go(f"/losses/{case.pk}/doors/")
    expect(house.officer.page.get_by_text(f"of {count}").first).to_be_visible()
    expect(house.officer.page.get_by_text(str(copy.symbol), exact=True).first).to_be_visible()


def plan(house: House, case: LossCase) -> None:
    """The locksmith has plans worked out; the officer, who did neither, chooses the one for every core."""
    house.locksmith.go(f"/losses/{case.pk}/plans/")
    press(house.locksmith, "Work out plans")
    do_jobs()
    house.officer.go(f"/losses/{case.pk}/plans/")
    go_on(house.officer, "Choose")
    do_jobs()
    case.refresh_from_db()
    assert case.state == "working"


def let_go(case: LossCase) -> None:
    smith = User.objects.get(username="locksmith")
    for line in OrderLine.objects.filter(order__case_order__case=case, trying="owed"):
        let_go_untried(actor=smith, line=line, why="Tried elsewhere")


def work(house: House, case: LossCase) -> None:
    """Pin, swap, cut, and empty what came out, on the pages of the orders."""
    orders = WorkOrder.objects.filter(case_order__case=case)
    for order in orders.filter(kind="pin"):
        house.locksmith.go(f"/orders/{order.pk}/")
        if order.lines.count() == 1:
            press(house.locksmith, "Pin this core")
        else:
            go_on(house.locksmith, "Pin all")
            do_jobs()
    let_go(case)
    for order in orders.filter(kind="swap"):
        house.locksmith.go(f"/orders/{order.pk}/round/")
        for box in house.locksmith.page.locator(".checklist input").all():
            box.check()
        press(house.locksmith, "Finish the ticked doors")
        expect(house.locksmith.page.locator("main")).to_contain_text("Swaps finished")
    for order in orders.filter(kind="cut"):
        for _ in range(order.lines.count()):
            house.locksmith.go(f"/orders/{order.pk}/")
            go_on(house.locksmith, "Cut and put in the cabinet")
    assert {order.state for order in orders.all()} == {"done"}
    house.locksmith.go(f"/losses/{case.pk}/plans/")
    if house.locksmith.page.get_by_role("button", name="Empty").count():
        go_on(house.locksmith, "Empty")


def prove_and_close(house: House, case: LossCase, copy: KeyCopy) -> None:
    house.locksmith.go(f"/losses/{case.pk}/")
    press(house.locksmith, "Prove that the lost keys turn nothing")
    expect(house.locksmith.page.get_by_role("heading", level=1)).to_have_text("The lost keys turn nothing")
    assert not Turn.objects.filter(symbol=copy.symbol).exclude(core__place=Core.Place.GONE).exists()
    house.officer.go(f"/losses/{case.pk}/")
    with house.officer.page.expect_download() as saved:
        house.officer.page.get_by_role("button", name="Report (PDF)").click()
    assert saved.value.suggested_filename == f"loss-{case.number}.pdf"
    house.officer.page.get_by_label("How it ended").fill("Rekeyed and proven")
    press(house.officer, "Close the case")
    expect(house.officer.page.locator("main")).to_contain_text("The case is closed.")


def test_a_change_key_a_building_master_and_a_top_master_go_from_report_to_proof(house: House) -> None:
    lost = [(2, "change", PLANT), (1, "master", PLANT), (0, "master", PLANT)]
    for level, kind, format_id in lost:
        copy = copy_of(level, kind, format_id)
        case = report(house, copy)
        look_at_the_doors(house, case, copy)
        plan(house, case)
        work(house, case)
        prove_and_close(house, case, copy)
        case.refresh_from_db()
        assert (case.state, case.outcome) == ("closed", "Rekeyed and proven")
    assert house.complaints == []
