"""One door: what is in it, and who can open it."""

import pytest
from django.test import Client

from keyctl.cores.models import Core, Turn
from keyctl.places.models import Door, Space
from keyctl.systems.selectors import line_of
from keyctl.systems.services import bitting_of
from tests.cast import Cast
from tests.factories import change_key, install, make_core, make_door, make_housing, make_system, symbol


@pytest.fixture
def core(cast: Cast) -> Core:
    system = make_system(cast.north, actor=cast.locksmith)
    made = make_core(actor=cast.locksmith, site=cast.north, system=system)
    return install(made, make_housing(door=make_door(cast.north, is_egress=True, name="Store")))


def door_of(core: Core) -> Door:
    assert core.housing
    return core.housing.door


def url(door: Door) -> str:
    return f"/estate/doors/{door.pk}/"


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
    assert client.get(url(door_of(core))).status_code == STATUS[name]


def test_it_sends_a_visitor_to_the_sign_in_page(client: Client, core: Core) -> None:
    answer = client.get(url(door_of(core)))
    assert answer.status_code == 302
    assert answer.headers["Location"].startswith("/account/sign-in/")


def test_it_refuses_a_post(client: Client, cast: Cast, core: Core) -> None:
    client.force_login(cast.locksmith)
    assert client.post(url(door_of(core))).status_code == 405


def test_it_names_the_core_and_what_it_is_keyed_to(client: Client, cast: Cast, core: Core) -> None:
    client.force_login(cast.auditor)
    page = client.get(url(door_of(core))).content.decode()
    assert f"/estate/cores/{core.pk}/" in page
    assert f"/systems/keys/{core.keyed_to.get().pk}/" in page


def test_it_lists_every_key_with_what_it_does_and_why(client: Client, cast: Cast, core: Core) -> None:
    client.force_login(cast.auditor)
    answer = client.get(url(door_of(core)))
    openers = {str(opener.symbol): opener for opener in answer.context["openers"]}
    page = answer.content.decode()
    assert set(openers) == {str(key) for key in line_of(core.keyed_to.get())} | {"CTR"}
    assert all(opener.route[1:] in page and opener.effect[1:] in page for opener in openers.values())
    assert "Top master key" in page
    assert "Control key" in page


def test_it_marks_a_key_that_the_plan_does_not_mean(client: Client, cast: Cast, core: Core) -> None:
    assert core.system
    other = change_key(core.system, 3)
    Turn.objects.create(core=core, symbol=other, operates=True, withdraws=False)
    client.force_login(cast.auditor)
    page = client.get(url(door_of(core))).content.decode()
    assert "Incidental" in page
    assert "Not in the plan: the pins let it" in page


def test_it_marks_nothing_where_plan_and_pins_agree(client: Client, cast: Cast, core: Core) -> None:
    client.force_login(cast.auditor)
    assert "Incidental" not in client.get(url(door_of(core))).content.decode()


def test_cautions_defer_to_the_local_code(client: Client, cast: Cast, core: Core) -> None:
    client.force_login(cast.auditor)
    page = client.get(url(door_of(core))).content.decode()
    assert "Egress door" in page
    assert "local code" in page
    assert "Fire-rated door" not in page


def test_only_a_locksmith_is_led_to_the_swap(client: Client, cast: Cast, core: Core) -> None:
    link = f"?door={door_of(core).pk}"
    for name, may in (("locksmith", True), ("auditor", False), ("administrator", False)):
        client.force_login(getattr(cast, name))
        assert (link in client.get(url(door_of(core))).content.decode()) is may


def test_an_empty_housing_says_so(client: Client, cast: Cast) -> None:
    housing = make_housing(cast.north)
    client.force_login(cast.auditor)
    page = client.get(url(housing.door)).content.decode()
    assert "No core" in page
    assert "No key opens this door" in page


def test_it_holds_no_bitting(client: Client, cast: Cast, core: Core) -> None:
    assert core.system
    client.force_login(cast.locksmith)
    page = client.get(url(door_of(core))).content.decode()
    for key in core.system.symbols.all():
        assert bitting_of(key) not in page
    assert str(symbol(core.system, "CTR")) in page


def test_it_shows_what_the_door_joins_and_what_schedules_say(client: Client, cast: Cast, core: Core) -> None:
    door = door_of(core)
    for number, name in (("101", "Office"), ("1C1", "Hall")):
        door.spaces.add(Space.objects.create(floor=door.floor, number=number, name=name))
    Door.objects.filter(pk=door.pk).update(hardware_set="HW-3", serial_number="S-17", asset_tag="T-9")
    client.force_login(cast.auditor)
    page = client.get(url(door)).content.decode()
    for text in ("Office", "1C1", "HW-3", "S-17", "T-9"):
        assert text in page


def test_a_stated_rating_or_exit_warns_until_somebody_confirms_it(
    client: Client, cast: Cast, core: Core
) -> None:
    door = door_of(core)
    facts = {"fire_rating": "60 min", "stated_use": "fire exit, external", "is_egress": False}
    Door.objects.filter(pk=door.pk).update(**facts)
    client.force_login(cast.auditor)
    page = client.get(url(door)).content.decode()
    assert "states a fire rating of 60 min and that it is a fire exit" in page
    assert "local code" in page
    Door.objects.filter(pk=door.pk).update(is_fire_rated=True, is_egress=True)
    page = client.get(url(door)).content.decode()
    assert "confirmed by nobody" not in page
    assert "Fire-rated door" in page
