"""What the rows of archives must not hold."""

from collections.abc import Callable
from typing import Any

from django.utils import timezone

from keyctl.operations.models import EstateArchive, EstateArchiveFile
from tests.cast import Cast


def archive(cast: Cast, **facts: Any) -> EstateArchive:
    return EstateArchive.objects.create(**{"actor": cast.administrator, "reason": "We move house"} | facts)


def twice(cast: Cast) -> None:
    archive(cast, number="1234")
    archive(cast, number="1234")


def file(cast: Cast, **facts: Any) -> None:
    EstateArchiveFile.objects.create(archive=archive(cast), **facts)


FORBIDDEN: dict[str, Callable[[Cast], object]] = {
    "estate_archive_number_is_unique": twice,
    "estate_archive_has_a_reason": lambda cast: archive(cast, reason=""),
    "archive_file_that_is_made_says_what_it_is": lambda cast: file(cast, rows=3),
    "archive_file_that_is_gone_was_made": lambda cast: file(cast, gone_at=timezone.now()),
}
