"""Showing the pins of one core: who may, what is kept, and what is never kept."""

import pytest
from django.test import Client

from keyctl.audit.selectors import history_of
from keyctl.cores.models import Core
from keyctl.cores.turning import pins_of
from tests.cast import Cast
from tests.factories import make_core, make_system

REASON = "to pin it on the bench"


@pytest.fixture
def core(cast: Cast) -> Core:
    system = make_system(cast.north, actor=cast.locksmith)
    return make_core(actor=cast.locksmith, site=cast.north, system=system)


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
    client.force_login(getattr(cast, name))
    assert client.post(url(core), {"reason": REASON}).status_code == STATUS[name]
    assert reveals(core) == (1 if name == "locksmith" else 0)


def test_it_is_never_read_by_a_get(client: Client, cast: Cast, core: Core) -> None:
    client.force_login(cast.locksmith)
    assert client.get(url(core)).status_code == 405


def test_it_shows_every_pin_of_every_position(client: Client, cast: Cast, core: Core) -> None:
    client.force_login(cast.locksmith)
    answer = client.post(url(core), {"reason": REASON})
    shown = [column.sizes for column in answer.context["drawing"].columns]
    kept = pins_of(core).stacks
    assert [sizes["bottom"] for sizes in shown] == [str(stack.bottom) for stack in kept]
    assert [sizes["master"] for sizes in shown] == [", ".join(map(str, stack.masters)) for stack in kept]
    assert [sizes["control"] for sizes in shown] == [str(stack.control) for stack in kept]
    assert [sizes["top"] for sizes in shown] == [str(stack.top) for stack in kept]
    assert "<svg" in answer.content.decode()


def test_no_cache_keeps_it(client: Client, cast: Cast, core: Core) -> None:
    client.force_login(cast.locksmith)
    assert "no-store" in client.post(url(core), {"reason": REASON}).headers["Cache-Control"]


def test_the_reason_is_written_into_history(client: Client, cast: Cast, core: Core) -> None:
    client.force_login(cast.locksmith)
    client.post(url(core), {"reason": REASON})
    event = history_of(core)[0]
    assert event.actor == cast.locksmith
    assert REASON in event.sentence
    assert event.detail == {}


@pytest.mark.parametrize("reason", ["", "just so"])
def test_without_a_reason_of_the_list_nothing_is_shown(
    client: Client, cast: Cast, core: Core, reason: str
) -> None:
    client.force_login(cast.locksmith)
    answer = client.post(url(core), {"reason": reason})
    assert answer.status_code == 422
    assert answer.context["drawing"] is None
    assert "pin-label" not in answer.content.decode()
    assert reveals(core) == 0


def test_htmx_gets_only_the_piece(client: Client, cast: Cast, core: Core) -> None:
    client.force_login(cast.locksmith)
    page = client.post(url(core), {"reason": REASON}, headers={"HX-Request": "true"}).content.decode()
    assert "data-hide-after" in page
    assert "<html" not in page


def test_the_page_of_the_core_itself_holds_no_pins(client: Client, cast: Cast, core: Core) -> None:
    client.force_login(cast.locksmith)
    client.post(url(core), {"reason": REASON})
    page = client.get(f"/estate/cores/{core.pk}/").content.decode()
    assert "pin-control" not in page
    assert "secret" not in page


def test_a_core_without_pins_says_so(client: Client, cast: Cast, core: Core) -> None:
    assert core.system
    bare = make_core(actor=cast.locksmith, site=cast.north, system=core.system, pinned=False)
    client.force_login(cast.locksmith)
    answer = client.post(url(bare), {"reason": REASON})
    assert answer.status_code == 422
    assert "is not pinned yet" in answer.content.decode()
