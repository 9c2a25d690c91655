"""One key: what it does to the doors, by the pins."""

import pytest
from django.test import Client

from keyctl.cores.models import Core
from keyctl.systems.models import KeySymbol
from keyctl.systems.services import bitting_of
from tests.cast import Cast
from tests.factories import change_key, install, make_core, make_door, make_housing, make_system


@pytest.fixture
def core(cast: Cast) -> Core:
    system = make_system(cast.north, actor=cast.locksmith)
    made = make_core(actor=cast.locksmith, site=cast.north, system=system)
    return install(made, make_housing(door=make_door(cast.north, number="X-12")))


def key(core: Core, **facts: object) -> KeySymbol:
    assert core.system
    return core.system.symbols.get(**facts)


def url(symbol: KeySymbol) -> str:
    return f"/systems/keys/{symbol.pk}/"


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
    assert client.get(url(key(core, level=0))).status_code == STATUS[name]


def test_it_sends_a_visitor_to_the_sign_in_page(client: Client, core: Core) -> None:
    assert client.get(url(key(core, level=0))).headers["Location"].startswith("/account/sign-in/")


def test_the_own_key_and_every_master_above_open_the_door(client: Client, cast: Cast, core: Core) -> None:
    own = core.keyed_to.get()
    client.force_login(cast.auditor)
    for symbol in (own, own.parent, key(core, level=0)):
        assert symbol
        assert "X-12" in client.get(url(symbol)).content.decode()


def test_a_key_of_another_branch_opens_nothing(client: Client, cast: Cast, core: Core) -> None:
    assert core.system
    client.force_login(cast.auditor)
    page = client.get(url(change_key(core.system, 3))).content.decode()
    assert "X-12" not in page
    assert "It does nothing to any door yet" in page


def test_the_control_key_takes_the_core_out_and_is_cautioned(client: Client, cast: Cast, core: Core) -> None:
    client.force_login(cast.auditor)
    page = client.get(url(key(core, kind="control"))).content.decode()
    assert "Doors whose core it takes out" in page
    assert "X-12" in page
    assert "This key takes cores out" in page


def test_the_doors_of_another_site_stay_unseen(client: Client, cast: Cast) -> None:
    system = make_system(cast.north, cast.south, actor=cast.locksmith)
    made = make_core(actor=cast.locksmith, site=cast.north, system=system)
    install(made, make_housing(door=make_door(cast.north, number="X-12")))
    client.force_login(cast.stranger)
    answer = client.get(url(system.symbols.get(level=0)))
    assert answer.status_code == 200
    assert "X-12" not in answer.content.decode()
    assert str(made) not in client.get(url(change_key(system))).content.decode()


def test_it_shows_no_bitting(client: Client, cast: Cast, core: Core) -> None:
    assert core.system
    client.force_login(cast.locksmith)
    for symbol in core.system.symbols.all():
        assert bitting_of(symbol) not in client.get(url(symbol)).content.decode()
