"""What the constraints of rotations forbid; `tests/test_invariants.py` tries each."""

from collections.abc import Callable
from typing import Any

from django.utils import timezone

from keyctl.orders.models import WorkOrder
from keyctl.rotations.models import Rotation, RotationCore, RotationDoor, RotationKey, Wave
from tests import factories
from tests.cast import Cast


def a_rotation(cast: Cast, number: int = 1, **facts: Any) -> Rotation:
    return Rotation.objects.create(site=cast.north, number=number, started_by=cast.locksmith, **facts)


def a_wave(cast: Cast, times: int = 1, **facts: Any) -> None:
    rotation = a_rotation(cast)
    for ordinal in range(1, times + 1):
        Wave.objects.create(**{"rotation": rotation, "ordinal": ordinal} | facts)


def two_waves_under_way(cast: Cast) -> None:
    rotation = a_rotation(cast)
    for ordinal in (1, 2):
        order = WorkOrder.objects.create(
            site=cast.north, number=ordinal, kind="swap", opened_by=cast.locksmith
        )
        facts = {"state": "begun", "begun_at": timezone.now(), "swap_order": order}
        Wave.objects.create(rotation=rotation, ordinal=ordinal, **facts)


def a_key(cast: Cast, times: int = 1, same: bool = False) -> None:
    system = factories.make_system(cast.north, actor=cast.administrator)
    old, first, second = (factories.change_key(system, nth) for nth in range(3))
    rotation = a_rotation(cast)
    for new in (first, second)[:times]:
        RotationKey.objects.create(rotation=rotation, old=old, new=old if same else new)


def a_door(cast: Cast, **facts: Any) -> None:
    RotationDoor.objects.create(
        **{"rotation": a_rotation(cast), "housing": factories.make_housing(cast.north)} | facts
    )


def a_housing_in_two_rotations(cast: Cast) -> None:
    housing = factories.make_housing(cast.north)
    for number in (1, 2):
        RotationDoor.objects.create(rotation=a_rotation(cast, number), housing=housing)


def a_housing_twice(cast: Cast) -> None:
    rotation, housing = a_rotation(cast), factories.make_housing(cast.north)
    for runs in (True, False):
        RotationDoor.objects.create(rotation=rotation, housing=housing, is_running=runs)


def a_spare(cast: Cast) -> Any:
    system = factories.make_system(cast.north, actor=cast.administrator)
    return factories.make_core(actor=cast.locksmith, site=cast.north, system=system, pinned=False)


def a_core_meant_for_two_doors(cast: Cast) -> None:
    rotation, core = a_rotation(cast), a_spare(cast)
    for _ in range(2):
        RotationDoor.objects.create(rotation=rotation, housing=factories.make_housing(cast.north), meant=core)


def a_core(cast: Cast, times: int = 1, **facts: Any) -> None:
    core = a_spare(cast)
    for number in range(1, times + 1):
        RotationCore.objects.create(rotation=a_rotation(cast, number), core=core, **facts)


FORBIDDEN: dict[str, Callable[[Cast], object]] = {
    "rotation_number_is_unique": lambda cast: [a_rotation(cast) for _ in range(2)],
    "rotation_has_an_order_once_it_is_accepted": lambda cast: a_rotation(cast, state="working"),
    "rotation_end_says_who_and_how": lambda cast: a_rotation(cast, state="cancelled"),
    "rotation_has_a_crew_that_works": lambda cast: a_rotation(cast, people=0),
    "rotation_allows_a_day_at_least": lambda cast: a_rotation(cast, allowed_days=0),
    "rotation_plan_is_not_below_its_bound": lambda cast: a_rotation(cast, fewest_visits=1),
    "wave_has_its_own_place": lambda cast: a_wave(cast, times=2, ordinal=1),
    "rotation_has_one_wave_under_way": two_waves_under_way,
    "wave_under_way_has_its_orders": lambda cast: a_wave(cast, state="begun"),
    "wave_done_says_when": lambda cast: a_wave(cast, done_at=timezone.now()),
    "rotation_names_a_new_key_once": lambda cast: a_key(cast, times=2),
    "rotation_changes_a_key": lambda cast: a_key(cast, same=True),
    "housing_is_in_one_running_rotation": a_housing_in_two_rotations,
    "rotation_names_a_housing_once": a_housing_twice,
    "rotation_means_a_core_for_one_door": a_core_meant_for_two_doors,
    "rotation_door_done_says_when_and_what": lambda cast: a_door(cast, state="swapped"),
    "rotation_door_not_done_says_why": lambda cast: a_door(cast, state="left_out"),
    "rotation_door_is_unreached_in_a_wave": lambda cast: a_door(cast, state="unreached", reason="Locked"),
    "core_goes_round_in_one_rotation": lambda cast: a_core(cast, times=2),
    "core_out_of_a_rotation_says_why": lambda cast: a_core(cast, state="broken"),
    "core_to_bring_back_is_not_back": lambda cast: a_core(cast, state="coming_back", back_at=timezone.now()),
}
