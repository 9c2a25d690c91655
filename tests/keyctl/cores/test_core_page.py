"""One core: its facts, and moving it by hand."""

import pytest
from django.test import Client

from keyctl.audit.selectors import history_of
from keyctl.cores.models import Core
from tests.cast import Cast
from tests.factories import install, make_core, make_housing, make_system


@pytest.fixture
def core(cast: Cast) -> Core:
    system = make_system(cast.north, actor=cast.locksmith)
    return make_core(actor=cast.locksmith, site=cast.north, system=system)


def url(core: Core, act: str = "") -> str:
    return f"/estate/cores/{core.pk}/{act}"


STATUS = {
    "locksmith": 200,
    "desk": 200,
    "manager": 200,
    "officer": 200,
    "auditor": 200,
    "administrator": 200,
    "requester": 403,
    "stranger": 404,
}


@pytest.mark.parametrize("name", STATUS)
def test_each_role_gets_its_answer(client: Client, cast: Cast, core: Core, name: str) -> None:
    client.force_login(getattr(cast, name))
    assert client.get(url(core)).status_code == STATUS[name]


def test_it_sends_a_visitor_to_the_sign_in_page(client: Client, core: Core) -> None:
    assert client.get(url(core)).headers["Location"].startswith("/account/sign-in/")


def test_it_tells_what_the_core_is_and_who_pinned_it(client: Client, cast: Cast, core: Core) -> None:
    client.force_login(cast.auditor)
    page = client.get(url(core)).content.decode()
    assert "Small-format core, A2 system, 7 positions" in page
    assert f"by {cast.locksmith}" in page
    assert f"/systems/keys/{core.keyed_to.get().pk}/" in page


def test_only_a_locksmith_gets_the_forms(client: Client, cast: Cast, core: Core) -> None:
    client.force_login(cast.auditor)
    assert url(core, "pinning/") not in client.get(url(core)).content.decode()
    client.force_login(cast.locksmith)
    page = client.get(url(core)).content.decode()
    assert url(core, "pinning/") in page
    assert url(core, "move/") in page


@pytest.mark.parametrize(
    ("name", "status"), [("desk", 403), ("administrator", 403), ("requester", 403), ("stranger", 404)]
)
def test_nobody_else_moves_it(client: Client, cast: Cast, core: Core, name: str, status: int) -> None:
    client.force_login(getattr(cast, name))
    answer = client.post(url(core, "move/"), {"place": "shelf", "version": core.version})
    core.refresh_from_db()
    assert answer.status_code == status
    assert core.place == Core.Place.BENCH


def test_a_locksmith_takes_it_into_their_own_case(client: Client, cast: Cast, core: Core) -> None:
    client.force_login(cast.locksmith)
    answer = client.post(url(core, "move/"), {"place": "case", "version": core.version})
    core.refresh_from_db()
    assert answer.headers["Location"] == url(core)
    assert core.carrier == cast.locksmith


def test_a_stale_page_moves_nothing_and_says_who_was_first(client: Client, cast: Cast, core: Core) -> None:
    client.force_login(cast.locksmith)
    answer = client.post(url(core, "move/"), {"place": "shelf", "version": core.version - 1})
    core.refresh_from_db()
    assert answer.status_code == 409
    assert "has changed since you looked" in answer.content.decode()
    assert core.place == Core.Place.BENCH


def test_a_core_in_a_door_has_no_form_to_move_it(client: Client, cast: Cast, core: Core) -> None:
    install(core, make_housing(cast.north))
    client.force_login(cast.locksmith)
    assert url(core, "move/") not in client.get(url(core)).content.decode()


def test_an_unpinned_core_leads_to_the_order_that_pins_it(client: Client, cast: Cast, core: Core) -> None:
    assert core.system
    bare = make_core(actor=cast.locksmith, site=cast.north, system=core.system, pinned=False)
    client.force_login(cast.locksmith)
    page = client.get(url(bare)).content.decode()
    assert "Order the pinning" in page
    assert url(bare, "pinning/") not in page


def test_its_history_is_told(client: Client, cast: Cast, core: Core) -> None:
    client.force_login(cast.auditor)
    page = client.get(url(core)).content.decode()
    for event in history_of(core):
        assert event.sentence in page


@pytest.mark.parametrize("written", ["{}", " {} ", "lower"])
def test_a_tag_is_found_however_it_is_written(client: Client, cast: Cast, core: Core, written: str) -> None:
    tag = str(core).lower() if written == "lower" else written.format(core.tag)
    client.force_login(cast.auditor)
    assert client.get(f"/Q/{tag}").headers["Location"] == url(core)


@pytest.mark.parametrize(("name", "status"), [("requester", 403), ("stranger", 404)])
def test_a_tag_is_not_found_outside_ones_scope(
    client: Client, cast: Cast, core: Core, name: str, status: int
) -> None:
    client.force_login(getattr(cast, name))
    assert client.get(f"/Q/{core.tag}").status_code == status


def test_an_unknown_tag_is_not_found(client: Client, cast: Cast) -> None:
    client.force_login(cast.locksmith)
    assert client.get("/Q/BCDF2345GHJK").status_code == 404
