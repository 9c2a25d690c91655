"""What the constraints of figures of exposure forbid; `tests/test_invariants.py` tries each."""

from collections.abc import Callable
from typing import Any

from django.utils import timezone

from keyctl.cores.models import Core
from keyctl.exposure.models import CoreExposure, IncidentalCount
from tests import factories
from tests.cast import Cast
from tests.keyctl.cores.forbidden import SMALL

COUNTED: dict[str, Any] = {
    "format_id": "small-a2-7",
    "keyway": "W1",
    "line": "operating",
    "cores": 1,
    "keys": 1,
    "pinned_until": timezone.now(),
    "number": 1,
    "low": 1,
    "high": 1,
}


def a_core_with_more_idle_wafers_than_wafers(cast: Cast) -> None:
    core = Core.objects.create(site=cast.north, **SMALL)
    figures = ["keys", "accepts", "unplanned", "needed", "trials", "blanks"]
    figures += ["near_turning", "near_withdrawing"]
    CoreExposure.objects.create(
        core=core, pinned_at=timezone.now(), wafers=1, idle_wafers=2, **dict.fromkeys(figures, 0)
    )


def a_keyway_counted_twice(cast: Cast) -> None:
    for _ in range(2):
        IncidentalCount.objects.create(**COUNTED)


def a_site_counted_twice(cast: Cast) -> None:
    for _ in range(2):
        IncidentalCount.objects.create(**COUNTED, site=cast.north)


def a_system_counted_twice(cast: Cast) -> None:
    system = factories.make_system(cast.north, actor=cast.administrator)
    for _ in range(2):
        IncidentalCount.objects.create(**COUNTED, system=system)


def a_count_of_two_scopes(cast: Cast) -> None:
    system = factories.make_system(cast.north, actor=cast.administrator)
    IncidentalCount.objects.create(**COUNTED, site=cast.north, system=system)


def a_count_outside_its_interval(cast: Cast) -> None:
    IncidentalCount.objects.create(**(COUNTED | {"number": 3}))


FORBIDDEN: dict[str, Callable[[Cast], object]] = {
    "core_exposure_is_part_of_the_whole": a_core_with_more_idle_wafers_than_wafers,
    "incidental_count_of_a_keyway_is_kept_once": a_keyway_counted_twice,
    "incidental_count_of_a_site_is_kept_once": a_site_counted_twice,
    "incidental_count_of_a_system_is_kept_once": a_system_counted_twice,
    "incidental_count_has_one_scope": a_count_of_two_scopes,
    "incidental_count_lies_in_its_interval": a_count_outside_its_interval,
}
