"""The proof tries every key on every core and names what differs from the plan."""

import pytest

from keyctl import engine
from keyctl.cores.models import Core, Turn
from keyctl.cores.proof import Kind, prove_estate
from keyctl.cores.services import plan_of
from keyctl.cores.turning import pins_of
from keyctl.systems.models import KeySymbol, KeySystem
from keyctl.systems.services import bitting_of
from keyctl.vault import services as vault
from tests import factories
from tests.cast import Cast


@pytest.fixture
def system(cast: Cast) -> KeySystem:
    return factories.make_system(cast.north, actor=cast.administrator)


@pytest.fixture
def core(cast: Cast, system: KeySystem) -> Core:
    return factories.make_core(actor=cast.locksmith, site=cast.north, system=system)


def repin_as(core: Core, symbols: list[KeySymbol]) -> None:
    """Put other pins into the core behind the plan's back."""
    control = core.system.symbols.get(kind=KeySymbol.Kind.CONTROL)  # type: ignore[union-attr]
    pinned = engine.pin(core.format_id, [bitting_of(symbol) for symbol in symbols], bitting_of(control))
    core.pinning = vault.seal(core, "pinning", engine.dump(pinned))
    core.save(update_fields=["pinning"])


def test_it_counts_every_pair(cast: Cast, core: Core, system: KeySystem) -> None:
    proof = prove_estate(actor=cast.officer)
    assert (proof.cores, proof.keys, proof.pairs) == (1, system.symbols.count(), system.symbols.count())


def test_pins_made_from_the_plan_agree_with_it(cast: Cast, core: Core) -> None:
    assert prove_estate(actor=cast.officer).disagreements == []


def test_it_equals_trying_each_key_by_itself(cast: Cast, core: Core, system: KeySystem) -> None:
    prove_estate(actor=cast.officer)
    pinned = pins_of(core)
    one_by_one = {
        symbol.pk
        for symbol in system.symbols.all()
        if engine.try_key(pinned, engine.read_key(system.format_id, bitting_of(symbol))).operates
    }
    assert set(Turn.objects.filter(operates=True).values_list("symbol", flat=True)) == one_by_one


def test_it_names_a_key_that_ought_to_turn_the_core(cast: Cast, core: Core, system: KeySystem) -> None:
    repin_as(core, [factories.symbol(system, "A")])
    kinds = {(found.symbol_id, found.kind) for found in prove_estate(actor=cast.officer).disagreements}
    assert (factories.symbol(system, "AA1").pk, Kind.DOES_NOT_TURN) in kinds


def test_it_names_a_key_that_ought_not(cast: Cast, core: Core, system: KeySystem) -> None:
    line = [factories.symbol(system, name) for name in ("A", "AA", "AA1", "AB2")]
    repin_as(core, line)
    kinds = {(found.symbol_id, found.kind) for found in prove_estate(actor=cast.officer).disagreements}
    assert (factories.symbol(system, "AB2").pk, Kind.TURNS_UNPLANNED) in kinds


def test_without_storing_it_leaves_the_turns_alone(cast: Cast, core: Core, system: KeySystem) -> None:
    before = set(Turn.objects.values_list("pk", flat=True))
    prove_estate(actor=cast.officer, store=False)
    assert set(Turn.objects.values_list("pk", flat=True)) == before


def test_the_plan_is_what_the_masters_above_ask_for(core: Core) -> None:
    assert plan_of(core).accepts == 2**4
