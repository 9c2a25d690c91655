"""What the list of changes refuses, for the test that asks the database itself."""

from collections.abc import Callable
from typing import Any

from django.utils import timezone

from keyctl.feed.models import Beginning, Change
from tests.cast import Cast


def a_change(cast: Cast, times: int = 1, **facts: Any) -> None:
    whole = {"kind": "door", "thing": cast.south.pk, "site": cast.north.pk, "deleted": True, **facts}
    for _ in range(times):
        Change.objects.create(at=timezone.now(), **whole)


FORBIDDEN: dict[str, Callable[[Cast], object]] = {
    "change_is_listed_once_for_a_site": lambda cast: a_change(cast, times=2),
    "change_is_of_a_known_kind": lambda cast: a_change(cast, kind="lock"),
    "feed_begins_once": lambda _cast: Beginning.objects.create(id=2, name="other"),
    "feed_forgets_from_its_beginning": lambda _cast: Beginning.objects.update(forgotten_up_to=-1),
}
