"""What the constraints of accounts forbid; `tests/test_invariants.py` tries each."""

from collections.abc import Callable

from django.utils import timezone

from keyctl.accounts.models import User, WayBack
from tests.cast import Cast


def one_code_for_two_ways_back(cast: Cast) -> None:
    for user in (cast.administrator, cast.officer):
        WayBack.objects.create(user=user, digest="d" * 64, expires_at=timezone.now())


def two_people_of_one_name(cast: Cast) -> None:
    User.objects.filter(pk=cast.desk.pk).update(username=cast.locksmith.username)


FORBIDDEN: dict[str, Callable[[Cast], None]] = {
    "way_back_is_unique": one_code_for_two_ways_back,
    "user_name_is_unique": two_people_of_one_name,
}
