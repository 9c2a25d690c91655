"""Registering a core on its page."""

import pytest
from django.test import Client
from django.urls import reverse

from keyctl.cores.models import Core
from keyctl.systems.models import KeySystem
from tests import factories
from tests.cast import Cast


@pytest.fixture
def system(cast: Cast) -> KeySystem:
    return factories.make_system(cast.north, actor=cast.administrator)


def register(client: Client, cast: Cast, system: KeySystem, names: str) -> int:
    facts = {"site": cast.north.pk, "system": system.pk, "names": names}
    return client.post(reverse("cores:register"), facts).status_code


def test_a_locksmith_registers_a_core(client: Client, cast: Cast, system: KeySystem) -> None:
    client.force_login(cast.locksmith)
    assert register(client, cast, system, "AA1") == 302
    core = Core.objects.get()
    assert (core.place, [str(symbol) for symbol in core.keyed_to.all()]) == (Core.Place.BENCH, ["AA1"])


def test_a_cross_keyed_core_names_several_keys(client: Client, cast: Cast, system: KeySystem) -> None:
    client.force_login(cast.locksmith)
    register(client, cast, system, "aa1, AB2")
    assert {str(symbol) for symbol in Core.objects.get().keyed_to.all()} == {"AA1", "AB2"}


def test_an_unknown_symbol_is_named_and_nothing_is_stored(
    client: Client, cast: Cast, system: KeySystem
) -> None:
    client.force_login(cast.locksmith)
    assert register(client, cast, system, "AA1, ZZ9") == 422
    assert not Core.objects.exists()


def test_the_control_key_is_not_what_a_core_is_keyed_to(
    client: Client, cast: Cast, system: KeySystem
) -> None:
    client.force_login(cast.locksmith)
    assert register(client, cast, system, "CTR") == 422


@pytest.mark.parametrize("person", ["desk", "manager", "officer", "auditor", "requester", "administrator"])
def test_only_locksmiths_see_the_page(client: Client, cast: Cast, person: str) -> None:
    client.force_login(cast.everybody[person])
    assert client.get(reverse("cores:register")).status_code == 403


def test_a_system_of_another_site_is_no_choice(client: Client, cast: Cast) -> None:
    foreign = factories.make_system(cast.south, actor=cast.stranger)
    client.force_login(cast.locksmith)
    assert register(client, cast, foreign, "AA1") == 422
