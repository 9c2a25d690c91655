"""What the constraints of a core and its turns forbid; `tests/test_invariants.py` tries each."""

from collections.abc import Callable
from typing import Any

from keyctl.cores.models import Core, Keying, Turn
from tests import factories
from tests.cast import Cast

SMALL: dict[str, Any] = {"format_id": "small-a2-7", "construction": "small-format"}


def two_cores_in_a_housing(cast: Cast) -> None:
    housing = factories.make_housing(cast.north)
    for _ in range(2):
        Core.objects.create(
            site=cast.north,
            format_id="small-a2-7",
            construction="small-format",
            place="housing",
            housing=housing,
        )


def a_core_in_two_places(cast: Cast) -> None:
    housing = factories.make_housing(cast.north)
    Core.objects.create(site=cast.north, **SMALL, place="shelf", housing=housing)


def two_cores_of_one_tag(cast: Cast) -> None:
    for _ in range(2):
        Core.objects.create(site=cast.north, **SMALL, tag="BCDF")


def pins_without_who_and_when(cast: Cast) -> None:
    Core.objects.create(site=cast.north, **SMALL, pinning=b"sealed")


def a_core(cast: Cast) -> Core:
    return factories.make_core(
        actor=cast.locksmith,
        site=cast.north,
        system=factories.make_system(cast.north, actor=cast.administrator),
    )


def a_turn_without_effect(cast: Cast) -> None:
    core = a_core(cast)
    key = core.turns.filter(operates=True)[0].symbol
    core.turns.all().delete()
    Turn.objects.create(core=core, symbol=key, operates=False, withdraws=False)


def one_turn_told_twice(cast: Cast) -> None:
    turn = a_core(cast).turns.all()[0]
    Turn.objects.create(core=turn.core, symbol=turn.symbol, operates=True, withdraws=False)


def a_core_keyed_twice_to_a_key(cast: Cast) -> None:
    keying = a_core(cast).keyings.get()
    Keying.objects.create(core=keying.core, symbol=keying.symbol)


FORBIDDEN: dict[str, Callable[[Cast], object]] = {
    "housing_holds_at_most_one_core": two_cores_in_a_housing,
    "core_is_in_exactly_one_place": a_core_in_two_places,
    "core_tag_is_unique": two_cores_of_one_tag,
    "core_pinning_says_who_and_when": pins_without_who_and_when,
    "turn_has_an_effect": a_turn_without_effect,
    "turn_is_stored_once": one_turn_told_twice,
    "core_is_keyed_to_a_symbol_once": a_core_keyed_twice_to_a_key,
}
