"""Showing the pins of one core: who may, what is kept, and what is never kept."""

import pytest
from django.test import Client
from django.urls import reverse

from keyctl.audit.selectors import history_of
from keyctl.cores.models import Core
from keyctl.cores.turning import pins_of
from keyctl.orders.services import cancel_order, open_pin_order
from tests.cast import Cast
from tests.factories import make_core, make_system
from tests.signing import sign_in


@pytest.fixture
def core(cast: Cast) -> Core:
    """A core that an open order names, which nobody took yet."""
    system = make_system(cast.north, actor=cast.locksmith)
    core = make_core(actor=cast.locksmith, site=cast.north, system=system)
    open_pin_order(actor=cast.locksmith, site=cast.north, title="Bench work", cores=[core])
    return core


def url(core: Core) -> str:
    return f"/estate/cores/{core.pk}/pinning/"


STATUS = {
    "locksmith": 200,
    "desk": 403,
    "manager": 403,
    "officer": 403,
    "auditor": 403,
    "administrator": 403,
    "requester": 403,
    "stranger": 404,
}


def reveals(core: Core) -> int:
    return history_of(core).filter(verb="core.pinning_shown").count()


@pytest.mark.parametrize("name", STATUS)
def test_only_a_locksmith_of_the_site_sees_the_pins(
    client: Client, cast: Cast, core: Core, name: str
) -> None:
    sign_in(client, getattr(cast, name))
    assert client.post(url(core)).status_code == STATUS[name]
    assert reveals(core) == (1 if name == "locksmith" else 0)


def test_it_is_never_read_by_a_get(client: Client, cast: Cast, core: Core) -> None:
    sign_in(client, cast.locksmith)
    assert client.get(url(core)).status_code == 405


def test_it_shows_every_pin_of_every_position(client: Client, cast: Cast, core: Core) -> None:
    sign_in(client, cast.locksmith)
    answer = client.post(url(core))
    shown = [column.sizes for column in answer.context["drawing"].columns]
    kept = pins_of(core).stacks
    assert [sizes["bottom"] for sizes in shown] == [str(stack.bottom) for stack in kept]
    assert [sizes["master"] for sizes in shown] == [", ".join(map(str, stack.masters)) for stack in kept]
    assert [sizes["control"] for sizes in shown] == [str(stack.control) for stack in kept]
    assert [sizes["top"] for sizes in shown] == [str(stack.top) for stack in kept]
    assert "<svg" in answer.content.decode()


def test_no_cache_keeps_it(client: Client, cast: Cast, core: Core) -> None:
    sign_in(client, cast.locksmith)
    assert "no-store" in client.post(url(core)).headers["Cache-Control"]


def test_the_order_is_written_into_history(client: Client, cast: Cast, core: Core) -> None:
    sign_in(client, cast.locksmith)
    client.post(url(core))
    event = history_of(core)[0]
    assert event.actor == cast.locksmith
    order = core.order_lines.get().order
    assert event.sentence == f"looked at the pinning of core {core} for order {order.number}"
    assert event.detail == {"by": "work"}


def test_without_an_order_nothing_is_shown_and_the_answer_leads_to_asking(
    client: Client, cast: Cast, core: Core
) -> None:
    cancel_order(actor=cast.locksmith, order=core.order_lines.get().order)
    sign_in(client, cast.locksmith)
    answer = client.post(url(core))
    assert answer.status_code == 422
    assert reverse("reveals:ask", args=["core", core.pk]) in answer.content.decode()
    assert answer.context["drawing"] is None
    assert "pin-label" not in answer.content.decode()
    assert reveals(core) == 0


def test_htmx_gets_only_the_piece(client: Client, cast: Cast, core: Core) -> None:
    sign_in(client, cast.locksmith)
    page = client.post(url(core), headers={"HX-Request": "true"}).content.decode()
    assert "data-hide-after" in page
    assert "<html" not in page


def test_the_page_of_the_core_itself_holds_no_pins(client: Client, cast: Cast, core: Core) -> None:
    sign_in(client, cast.locksmith)
    client.post(url(core))
    page = client.get(f"/estate/cores/{core.pk}/").content.decode()
    assert "pin-control" not in page
    assert "secret" not in page


def test_a_core_without_pins_says_so(client: Client, cast: Cast, core: Core) -> None:
    assert core.system
    bare = make_core(actor=cast.locksmith, site=cast.north, system=core.system, pinned=False)
    sign_in(client, cast.locksmith)
    answer = client.post(url(bare))
    assert answer.status_code == 422
    assert "is not pinned yet" in answer.content.decode()
