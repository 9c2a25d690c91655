"""Every act in every state by every person, against a table written here by hand."""

from collections.abc import Callable
from typing import Any

import pytest
from django.core.exceptions import PermissionDenied
from django.db import transaction
from django.http import Http404
from django.utils import timezone

from keyctl.accounts.models import User
from keyctl.lib.errors import Conflict
from keyctl.orders import services
from keyctl.orders.models import WorkOrder
from keyctl.places.models import Membership
from keyctl.places.roles import Role
from tests import factories
from tests.keyctl.orders.workshop import Workshop

STATES = ["open", "under_way", "waiting", "done", "cancelled"]
# What each state becomes, in the order above; a dash where the act is refused. Then who may.
TABLE = """
start   under_way  -          -          -  -  locksmith
wait    waiting    waiting    -          -  -  locksmith
go_on   -          -          under_way  -  -  locksmith
assign  open       under_way  waiting    -  -  locksmith administrator
allow   open       under_way  waiting    -  -  officer
work    under_way  under_way  under_way  -  -  locksmith
cancel  cancelled  cancelled  cancelled  -  -  locksmith
"""
ROWS = {row.split()[0]: row.split()[1:] for row in TABLE.strip().splitlines()}
# Work comes of the lines, so nobody is offered it as such.
OFFERED = [act for act in ROWS if act != "work"]
MEMBERS = ["locksmith", "desk", "manager", "officer", "auditor", "requester", "administrator", "program"]


@pytest.fixture
def order(shop: Workshop) -> WorkOrder:
    housing, _ = shop.furnished()
    return services.open_lock_out(
        actor=shop.smith,
        site=shop.site,
        title="Pipe",
        housings=[housing],
        asked_by="Facilities",
        until=timezone.localdate(),
    )


def people(shop: Workshop) -> dict[str, User]:
    program = factories.make_user("program", site=shop.site, role=Role.INTEGRATION)
    return {**shop.cast.everybody, "program": program}


def put(order: WorkOrder, state: str) -> None:
    ended = timezone.now() if state in {"done", "cancelled"} else None
    waits_for = "A part" if state == "waiting" else ""
    WorkOrder.objects.filter(pk=order.pk).update(state=state, closed_at=ended, waits_for=waits_for)


def do(act: str, actor: User, order: WorkOrder, smith: User) -> Any:
    acts: dict[str, Callable[[], Any]] = {
        "start": lambda: services.start_order(actor=actor, order=order),
        "wait": lambda: services.let_wait(actor=actor, order=order, reason="Springs"),
        "go_on": lambda: services.go_on(actor=actor, order=order),
        "assign": lambda: services.assign_order(actor=actor, order=order, to=smith),
        "allow": lambda: services.allow_ways_out(actor=actor, order=order, word="Stair B is open"),
        "work": lambda: services.report_unreached(actor=actor, line=order.lines.get(), reason="In use"),
        "cancel": lambda: services.cancel_order(actor=actor, order=order),
    }
    return acts[act]()


def outcome(act: str, actor: User, order: WorkOrder, smith: User) -> str:
    """The state afterwards, or what stood against it; nothing of it stays."""
    with transaction.atomic():
        try:
            with transaction.atomic():
                do(act, actor, order, smith)
            found = WorkOrder.objects.get(pk=order.pk).state
        except Http404:
            found = "not found"
        except PermissionDenied:
            found = "forbidden"
        except Conflict:
            found = "-"
        transaction.set_rollback(True)
    return found


@pytest.mark.parametrize("act", ROWS)
def test_an_act_leads_where_the_table_says_and_for_whom(shop: Workshop, order: WorkOrder, act: str) -> None:
    after, allowed = ROWS[act][:5], ROWS[act][5:]
    everybody = people(shop)
    for state, expected in zip(STATES, after, strict=True):
        put(order, state)
        for name, person in everybody.items():
            wanted = "not found" if name == "stranger" else expected if name in allowed else "forbidden"
            assert outcome(act, person, order, shop.smith) == wanted, (state, name)


@pytest.mark.parametrize("state", STATES)
def test_a_page_offers_what_the_table_allows_and_nothing_else(
    shop: Workshop, order: WorkOrder, state: str
) -> None:
    put(order, state)
    everybody = people(shop)
    for name in MEMBERS:
        offered = {
            str(act) for act in services.allowed_acts(everybody[name], WorkOrder.objects.get(pk=order.pk))
        }
        column = STATES.index(state)
        assert offered == {act for act in OFFERED if ROWS[act][column] != "-" and name in ROWS[act][5:]}, name


def test_who_has_two_roles_may_what_both_may(shop: Workshop, order: WorkOrder) -> None:
    Membership.objects.create(user=shop.smith, site=shop.site, role=Role.OFFICER)
    assert "allow" in services.allowed_acts(shop.smith, order)


def test_only_a_lock_out_asks_for_an_officers_word(shop: Workshop) -> None:
    assert services.allowed_acts(shop.cast.officer, shop.pin_order()) == []


def test_the_last_line_ends_an_order_that_waited(shop: Workshop) -> None:
    order = shop.pin_order()
    services.let_wait(actor=shop.smith, order=order, reason="Springs")
    services.pin_line(actor=shop.smith, line=order.lines.get())
    order.refresh_from_db()
    assert (order.state, order.waits_for) == ("done", "")
