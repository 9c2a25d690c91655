"""What the constraints of photos forbid; `tests/test_invariants.py` tries each."""

from collections.abc import Callable
from typing import Any
from uuid import uuid4

from keyctl.field.models import FieldPhoto
from tests import factories
from tests.cast import Cast
from tests.keyctl.field.photographs import a_photo


def a_changed(cast: Cast, **facts: Any) -> None:
    photo = a_photo(cast.locksmith, uuid4(), factories.make_door(cast.north))
    FieldPhoto.objects.filter(pk=photo.pk).update(**facts)


def of_nothing(_cast: Cast) -> None:
    FieldPhoto.objects.create(sha256="0" * 64)


FORBIDDEN: dict[str, Callable[[Cast], None]] = {
    "field_photo_is_there_or_told_of": of_nothing,
    "field_photo_that_came_says_what_it_is": lambda cast: a_changed(cast, sent_by=None),
    "field_photo_belongs_to_a_door_of_a_site": lambda cast: a_changed(cast, site=None),
}
