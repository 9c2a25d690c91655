"""What the constraints of pictures of a system forbid; `tests/test_invariants.py` tries each."""

from collections.abc import Callable
from typing import Any

from keyctl.versions.models import SystemVersion
from tests import factories
from tests.cast import Cast


def a_version(cast: Cast, number: int = 1, times: int = 1, **facts: Any) -> None:
    system = factories.make_system(cast.north, actor=cast.administrator)
    row = {
        "system": system,
        "number": number,
        "occasion": "by-hand",
        "made_by": cast.locksmith,
        "why": "Works",
    }
    for _ in range(times):
        SystemVersion.objects.create(**(row | {"keys": 1, "cores": 1, "content": b"x"} | facts))


def two_versions_of_one_number(cast: Cast) -> None:
    a_version(cast, times=2)


def a_version_numbered_nought(cast: Cast) -> None:
    a_version(cast, number=0)


def a_version_taken_by_nobody(cast: Cast) -> None:
    a_version(cast, made_by=None)


FORBIDDEN: dict[str, Callable[[Cast], object]] = {
    "version_number_is_unique_in_its_system": two_versions_of_one_number,
    "version_numbers_begin_at_one": a_version_numbered_nought,
    "version_taken_by_hand_says_by_whom": a_version_taken_by_nobody,
}
