"""What the constraints of control keys and their blanks forbid; `tests/test_invariants.py` tries each."""

from collections.abc import Callable
from typing import Any

from django.utils import timezone

from keyctl.cores.models import Core
from keyctl.recovery.models import (
    ControlApproval,
    ControlBlank,
    ControlBlankMove,
    ControlKeyCase,
    CoreReading,
)
from keyctl.systems.models import KeySymbol
from tests.cast import Cast
from tests.keyctl.cores.forbidden import SMALL
from tests.keyctl.keys.keyroom import bare_key, bare_system


def a_case(cast: Cast, **facts: Any) -> ControlKeyCase:
    row: dict[str, Any] = {"way": "decode", "note": "Not on the hook.", "opened_by": cast.locksmith} | facts
    row["system"] = facts.get("system") or bare_system(cast.north, actor=cast.administrator)
    return ControlKeyCase.objects.create(site=cast.north, **row)


def two_open_cases(cast: Cast) -> None:
    system = bare_system(cast.north, actor=cast.administrator)
    for _ in range(2):
        a_case(cast, system=system)


def a_core(cast: Cast) -> Core:
    return Core.objects.create(site=cast.north, **SMALL)


def a_key(cast: Cast) -> KeySymbol:
    return bare_key(bare_system(cast.north, actor=cast.administrator), "AA1")


def a_reading(cast: Cast, **facts: Any) -> None:
    row: dict[str, Any] = {"ordinal": 1, "findings": b"sealed", "read_by": cast.locksmith} | facts
    row["case"] = facts.get("case") or a_case(cast)
    row["core"] = facts.get("core") or a_core(cast)
    CoreReading.objects.create(**row)


def two_readings_of_one_number(cast: Cast) -> None:
    case = a_case(cast)
    for _ in range(2):
        a_reading(cast, case=case)


def one_core_read_twice(cast: Cast) -> None:
    case, core = a_case(cast), a_core(cast)
    for ordinal in (1, 2):
        a_reading(cast, case=case, core=core, ordinal=ordinal)


def an_approval(cast: Cast, times: int = 1, **facts: Any) -> None:
    row = {"case_opened_by": cast.locksmith, "approved_by": cast.officer} | facts
    case = a_case(cast)
    for _ in range(times):
        ControlApproval.objects.create(case=case, **row)


def blanks(cast: Cast, times: int = 1, **facts: Any) -> ControlBlank:
    made = [ControlBlank.objects.create(site=cast.north, keyway="W1", **facts) for _ in range(times)]
    return made[0]


def a_move(cast: Cast, **facts: Any) -> None:
    row = {"kind": "received", "change": 1, "left": 1, "by": cast.locksmith} | facts
    ControlBlankMove.objects.create(blank=blanks(cast), **row)


FORBIDDEN: dict[str, Callable[[Cast], object]] = {
    "control_key_case_is_open_once": two_open_cases,
    "control_key_case_end_says_who_and_what": lambda cast: a_case(cast, state="closed"),
    "control_key_case_finds_cuts_only_by_decoding": lambda cast: a_case(
        cast, way="open-shackle", findings=b"sealed"
    ),
    "control_key_case_copies_a_key_of_its_core": lambda cast: a_case(
        cast, way="copy-to-blank", symbol=a_key(cast)
    ),
    "core_reading_has_its_own_number": two_readings_of_one_number,
    "core_is_read_once_in_a_case": one_core_read_twice,
    "core_reading_set_aside_says_who": lambda cast: a_reading(cast, set_aside_at=timezone.now()),
    "control_key_case_has_one_approval_at_a_time": lambda cast: an_approval(cast, times=2),
    "nobody_approves_their_own_control_key": lambda cast: an_approval(cast, approved_by=cast.locksmith),
    "who_approves_a_control_key_does_not_take_it": lambda cast: an_approval(
        cast, used_by=cast.officer, used_at=timezone.now()
    ),
    "control_approval_use_says_who": lambda cast: an_approval(cast, used_at=timezone.now()),
    "control_blank_is_registered_once_a_site": lambda cast: blanks(cast, times=2),
    "control_blanks_are_not_below_none": lambda cast: blanks(cast, count=-1),
    "control_blank_move_leaves_none_or_more": lambda cast: a_move(cast, left=-1),
    "control_blank_move_changes_as_its_kind_says": lambda cast: a_move(cast, change=-1),
}
