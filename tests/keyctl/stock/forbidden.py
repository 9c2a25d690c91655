"""What the constraints of the pin kits forbid; `tests/test_invariants.py` tries each."""

from collections.abc import Callable
from typing import Any

from keyctl.stock.models import PinBin, PinMove
from tests.cast import Cast


def a_bin(cast: Cast, **facts: Any) -> PinBin:
    return PinBin.objects.create(site=cast.north, family="a2", role="bottom", size=3, **facts)


def two_bins_for_one_size(cast: Cast) -> None:
    for _ in range(2):
        a_bin(cast)


def pins_bought_and_taken_out(cast: Cast) -> None:
    PinMove.objects.create(bin=a_bin(cast), change=-1, reason="bought", by=cast.locksmith)


FORBIDDEN: dict[str, Callable[[Cast], object]] = {
    "pin_bin_is_one_per_role_and_size": two_bins_for_one_size,
    "pin_bin_holds_no_less_than_nothing": lambda cast: a_bin(cast, count=-1),
    "pin_bin_in_doubt_was_counted": lambda cast: a_bin(cast, is_doubtful=True),
    "pin_move_goes_the_way_its_reason_says": pins_bought_and_taken_out,
}
