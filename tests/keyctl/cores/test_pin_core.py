"""Pinning a core from its plan."""

import pytest

from keyctl.audit.selectors import history_of
from keyctl.cores import services
from keyctl.cores.models import Core, Turn
from keyctl.lib.errors import Conflict, Refused
from keyctl.systems.models import KeySymbol
from tests import factories
from tests.cast import Cast


@pytest.fixture
def core(cast: Cast) -> Core:
    system = factories.make_system(cast.north, actor=cast.administrator)
    return factories.make_core(actor=cast.locksmith, site=cast.north, system=system, pinned=False)


def pin(cast: Cast, core: Core) -> Core:
    return services.pin_core(actor=cast.locksmith, core=core, version=core.version)


def test_it_seals_the_pins(cast: Cast, core: Core) -> None:
    pinned = pin(cast, core)
    assert pinned.is_pinned
    assert b"position" not in bytes(pinned.pinning or b"")


def test_it_finds_the_keys_that_turn_the_core(cast: Cast, core: Core) -> None:
    pin(cast, core)
    turning = Turn.objects.filter(core=core, operates=True).values_list("symbol__symbol", flat=True)
    assert set(turning) == {"A", "AA", "AA1"}


def test_it_finds_that_only_the_control_key_takes_the_core_out(cast: Cast, core: Core) -> None:
    pin(cast, core)
    withdrawing = Turn.objects.filter(core=core, withdraws=True).values_list("symbol__kind", flat=True)
    assert list(withdrawing) == [KeySymbol.Kind.CONTROL]


def test_it_refuses_a_core_that_changed_meanwhile(cast: Cast, core: Core) -> None:
    seen = core.version
    services.move_core(actor=cast.locksmith, core=core, version=seen, place=Core.Place.SHELF)
    with pytest.raises(Conflict, match="has changed since you looked"):
        services.pin_core(actor=cast.locksmith, core=core, version=seen)


def test_it_refuses_a_core_that_sits_in_a_door(cast: Cast, core: Core) -> None:
    core = factories.install(pin(cast, core), factories.make_housing(cast.north))
    with pytest.raises(Refused, match="bring it to the bench first"):
        pin(cast, core)


def test_it_tells_history_without_a_bitting(cast: Cast, core: Core) -> None:
    pin(cast, core)
    event = history_of(core)[0]
    assert (event.verb, event.sentence) == ("core.pinned", f"pinned core {core}")
