"""A core goes into a housing and another comes out."""

import pytest
from django.core.exceptions import PermissionDenied
from django.http import Http404

from keyctl.audit.selectors import history_of
from keyctl.cores import services
from keyctl.cores.models import Core
from keyctl.lib.errors import Conflict, Refused
from keyctl.places.models import Housing
from keyctl.systems.models import KeySystem
from tests import factories
from tests.cast import Cast


@pytest.fixture
def system(cast: Cast) -> KeySystem:
    return factories.make_system(cast.north, cast.south, actor=cast.administrator)


@pytest.fixture
def housing(cast: Cast) -> Housing:
    return factories.make_housing(cast.north)


@pytest.fixture
def core(cast: Cast, system: KeySystem) -> Core:
    return factories.make_core(actor=cast.locksmith, site=cast.north, system=system)


def exchange(cast: Cast, housing: Housing, core: Core, **facts: object) -> Core | None:
    given = {
        "actor": cast.locksmith,
        "core_in_version": core.version,
        "core_out_id": None,
        "put_at": Core.Place.BENCH,
        "order": housing,
    } | facts
    return services.exchange_core(housing=housing, core_in=core, **given)  # type: ignore[arg-type]


def test_it_puts_the_core_into_the_housing(cast: Cast, housing: Housing, core: Core) -> None:
    exchange(cast, housing, core)
    core.refresh_from_db()
    assert (core.place, core.housing) == (Core.Place.HOUSING, housing)


def test_it_takes_the_old_core_to_the_bench(
    cast: Cast, housing: Housing, core: Core, system: KeySystem
) -> None:
    old = factories.make_core(actor=cast.locksmith, site=cast.north, system=system)
    factories.install(old, housing)
    exchange(cast, housing, core, core_out_id=old.pk)
    old.refresh_from_db()
    assert (old.place, old.housing) == (Core.Place.BENCH, None)


def test_the_door_remembers_it(cast: Cast, housing: Housing, core: Core) -> None:
    exchange(cast, housing, core)
    assert history_of(housing.door)[0].sentence == f"put core {core} into {housing}"


def test_it_says_who_was_first_when_the_housing_changed(
    cast: Cast, housing: Housing, core: Core, system: KeySystem
) -> None:
    other = factories.make_core(actor=cast.locksmith, site=cast.north, system=system)
    exchange(cast, housing, other)
    with pytest.raises(Conflict, match="somebody swapped it since you began"):
        exchange(cast, housing, core)


def test_it_refuses_a_core_that_is_in_a_door_already(cast: Cast, housing: Housing, core: Core) -> None:
    exchange(cast, housing, core)
    core.refresh_from_db()
    with pytest.raises(Conflict, match="is already in"):
        exchange(cast, factories.make_housing(cast.north), core)


def test_it_refuses_a_core_that_is_not_pinned(cast: Cast, housing: Housing, system: KeySystem) -> None:
    core = factories.make_core(actor=cast.locksmith, site=cast.north, system=system, pinned=False)
    with pytest.raises(Refused, match="not pinned yet"):
        exchange(cast, housing, core)


def test_it_refuses_a_core_of_another_construction(cast: Cast, core: Core) -> None:
    with pytest.raises(Refused, match="choose a core that fits"):
        exchange(cast, factories.make_housing(cast.north, construction="ordinary"), core)


def test_it_refuses_a_core_of_another_site(cast: Cast, housing: Housing, system: KeySystem) -> None:
    foreign = factories.make_core(actor=cast.stranger, site=cast.south, system=system)
    with pytest.raises(Refused, match="belongs to South site"):
        exchange(cast, housing, foreign)


def test_a_manager_may_not(cast: Cast, housing: Housing, core: Core) -> None:
    with pytest.raises(PermissionDenied):
        exchange(cast, housing, core, actor=cast.manager)


def test_a_stranger_does_not_find_it(cast: Cast, housing: Housing, core: Core) -> None:
    with pytest.raises(Http404):
        exchange(cast, housing, core, actor=cast.stranger)
