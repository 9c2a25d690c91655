"""A swap at the door on a tablet, and what the door, history and REST say of it afterwards."""

import json
import urllib.request
from collections.abc import Callable
from datetime import timedelta

import pytest
from django.utils import timezone
from playwright.sync_api import expect

from keyctl.accounts.models import User
from keyctl.api.models import Scope
from keyctl.api.services import create_token
from keyctl.cores.models import Core
from keyctl.orders.models import OrderLine, WorkOrder
from keyctl.places.models import Housing
from tests.browser.conftest import Tablet


@pytest.fixture
def line(estate: None) -> OrderLine:
    order = WorkOrder.objects.get(kind=WorkOrder.Kind.SWAP, part_of=None)
    found = order.lines.order_by("ordinal").first()
    assert found is not None
    return found


@pytest.fixture
def spare(line: OrderLine) -> Core:
    loose = Core.objects.filter(
        site=line.order.site,
        place__in=[Core.Place.SHELF, Core.Place.BENCH],
        construction="small-format",
        pinning__isnull=False,
    )
    found = loose.exclude(order_lines__state="open").exclude(order_lines__trying="owed").first()
    assert found is not None
    return found


def choose(tablet: Tablet, line: OrderLine, core: Core) -> None:
    tablet.go(f"/orders/lines/{line.pk}/swap/")
    tablet.page.get_by_label("Tag on the core").fill(core.tag)
    tablet.page.get_by_role("button", name="This core goes in").click()


def exchange(tablet: Tablet) -> None:
    tablet.page.get_by_label("On the bench, to be pinned again").check()
    expect(tablet.page.get_by_role("checkbox")).to_have_count(3)


def check_and_finish(tablet: Tablet) -> None:
    for box in tablet.page.get_by_role("checkbox").all():
        box.check()
    tablet.page.get_by_role("button", name="Finish the swap").click()


def read_over_rest(url: str, path: str) -> dict[str, object]:
    administrator = User.objects.get(username="administrator")
    _, credential = create_token(
        actor=administrator,
        name="Door display",
        sites=[site.site for site in administrator.memberships.all()],
        scopes=[Scope.ESTATE_READ],
        expires_on=timezone.localdate() + timedelta(days=1),
    )
    request = urllib.request.Request(url + path, headers={"Authorization": f"Bearer {credential.text}"})  # noqa: S310
    with urllib.request.urlopen(request) as answer:  # noqa: S310
        read: dict[str, object] = json.load(answer)
        return read


def test_a_swap_shows_on_the_door_in_history_and_over_rest(
    tablet: Tablet, line: OrderLine, spare: Core
) -> None:
    housing = line.housing
    assert housing is not None
    tablet.sign_in("locksmith")
    choose(tablet, line, spare)
    exchange(tablet)
    check_and_finish(tablet)
    expect(tablet.page.get_by_text("Every check was good")).to_be_visible()

    tablet.go(f"/estate/doors/{housing.door_id}/")
    expect(tablet.page.get_by_role("link", name=str(spare), exact=True)).to_be_visible()
    expect(tablet.page.get_by_text(f"for {spare} in").first).to_be_visible()
    assert tablet.complaints == []

    over_rest = read_over_rest(tablet.url, f"/api/v1/cores/{spare.pk}/")
    assert over_rest["place"] == "housing"
    assert str(housing.pk) in json.dumps(over_rest)


def test_a_swap_is_not_finished_without_its_checks(tablet: Tablet, line: OrderLine, spare: Core) -> None:
    where = spare.place
    tablet.sign_in("locksmith")
    choose(tablet, line, spare)
    exchange(tablet)
    tablet.page.locator("form", has=tablet.page.get_by_role("checkbox")).evaluate(
        "it => it.noValidate = true"
    )
    tablet.page.get_by_role("button", name="Finish the swap").click()
    expect(tablet.page.get_by_text("The swap is not finished")).to_be_visible()
    spare.refresh_from_db()
    assert spare.place == where


def test_two_tablets_at_one_core_end_in_one_winner_and_one_clear_message(
    open_tablet: Callable[..., Tablet], line: OrderLine, spare: Core
) -> None:
    first, second = open_tablet(), open_tablet()
    for tablet in (first, second):
        tablet.sign_in("locksmith")
        choose(tablet, line, spare)
        exchange(tablet)
    for tablet in (first, second):
        for box in tablet.page.get_by_role("checkbox").all():
            box.check()
    first.page.get_by_role("button", name="Finish the swap").click()
    expect(first.page.get_by_text("Every check was good")).to_be_visible()
    second.page.get_by_role("button", name="Finish the swap").click()
    expect(second.page.locator("main")).to_contain_text("was first and finished")
    assert Housing.objects.get(cores=spare) == line.housing


def test_the_swap_works_without_scripts(
    open_tablet: Callable[..., Tablet], line: OrderLine, spare: Core
) -> None:
    tablet = open_tablet(java_script_enabled=False)
    tablet.sign_in("locksmith")
    choose(tablet, line, spare)
    exchange(tablet)
    check_and_finish(tablet)
    expect(tablet.page.get_by_text("Every check was good")).to_be_visible()
