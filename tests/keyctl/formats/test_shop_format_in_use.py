"""A shop's format carries a key system and its pinned cores like one of the package."""

import random

import pytest

from keyctl import engine
from keyctl.cores.models import Core
from keyctl.systems.models import KeySystem
from keyctl.systems.selectors import control_of, line_of
from keyctl.systems.services import bitting_of
from keyctl.vault import services as vault
from tests import factories
from tests.cast import Cast
from tests.keyctl.formats.shop import make

LEVELS = (((1, 2), 2), ((4, 5), 2))


@pytest.fixture
def system(cast: Cast) -> KeySystem:
    make(cast.administrator, "own-ten")
    return factories.make_system(
        cast.north, actor=cast.administrator, format_id="own-ten", levels=LEVELS, rng=random.Random(3)
    )


@pytest.fixture
def core(cast: Cast, system: KeySystem) -> Core:
    return factories.make_core(actor=cast.locksmith, site=cast.north, system=system)


def pinned(core: Core) -> engine.Pinning:
    return engine.restore(core.format_id, vault.unseal(core, "pinning"))


def test_every_key_is_cut_in_its_symbols(system: KeySystem) -> None:
    for symbol in system.symbols.all():
        assert len(bitting_of(symbol)) == 5
        assert set(bitting_of(symbol)) <= set("1234567890")


def test_a_core_keyed_to_it_is_pinned_and_turns(core: Core, system: KeySystem) -> None:
    for symbol in line_of(factories.change_key(system)):
        assert engine.try_key(pinned(core), engine.read_key("own-ten", bitting_of(symbol))).operates


def test_its_control_key_takes_the_core_out(core: Core, system: KeySystem) -> None:
    control = control_of(system)
    assert control is not None
    turning = engine.try_key(pinned(core), engine.read_key("own-ten", bitting_of(control)))
    assert turning.withdraws


def test_the_core_has_its_construction(core: Core) -> None:
    assert core.construction == "large-format"


def test_a_nought_means_ten(cast: Cast) -> None:
    """Worked by hand: total 12 leaves a top pin of 2 over a cut of ten, and of 11 over a cut of one."""
    make(cast.administrator, "own-ten")
    stacks = engine.pin("own-ten", ["01111"], "04411").stacks
    assert [(stack.bottom, stack.top) for stack in stacks[:1] + stacks[3:4]] == [(10, 2), (1, 11)]
