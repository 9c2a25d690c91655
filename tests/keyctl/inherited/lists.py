"""Bitting lists as people send them."""

import io
from collections.abc import Sequence
from typing import Any

from openpyxl import Workbook

from keyctl.inherited.models import BittingList
from keyctl.inherited.selectors import findings_shown
from keyctl.inherited.services import bring_list, choose_columns, start_check, start_writing
from keyctl.jobs.models import Job
from tests.cast import Cast
from tests.jobs import finish

HEADER = ["Symbol", "Bitting", "Master", "Kind", "Door"]
# A two-level system in small-a2-6: a master, two changes and a control key; the third row has two doors.
ROWS = [
    ["AA", "361492", "", "master", ""],
    ["1AA", "583614", "AA", "change", "Door 1"],
    ["2AA", "705278", "AA", "", "Door 2"],
    ["2AA", "", "", "", "Door 3"],
    ["CTR", "743810", "", "control", ""],
]
NEW = {"code": "OLD", "system_name": "The old house", "format_id": "small-a2-6", "keyway": "WOLD"}


def as_csv(rows: Sequence[Sequence[str]], delimiter: str = ",") -> bytes:
    return "\r\n".join(delimiter.join(row) for row in rows).encode("utf-8-sig")


def as_workbook(rows: Sequence[Sequence[Any]]) -> bytes:
    book = Workbook()
    for row in rows:
        book.worksheets[0].append(list(row))
    packed = io.BytesIO()
    book.save(packed)
    return packed.getvalue()


def brought(
    cast: Cast, rows: Sequence[Sequence[str]] = ROWS, *, header: bool = True, **facts: Any
) -> BittingList:
    content = as_csv([HEADER, *rows] if header else rows)
    given = {"actor": cast.locksmith, "site": cast.north, "name": "list.csv", "content": content}
    return bring_list(**given | (facts if "system" in facts else NEW | facts))


def checked(cast: Cast, rows: Sequence[Sequence[str]] = ROWS, **facts: Any) -> BittingList:
    listed = brought(cast, rows, **facts)
    listed = choose_columns(
        actor=cast.locksmith,
        listed=listed,
        version=listed.version,
        columns={"symbol": 0, "bitting": 1, "parent": 2, "kind": 3, "core": 4},
        has_header=True,
    )
    job = finish(start_check(actor=cast.locksmith, listed=listed, version=listed.version))
    assert job.state == Job.State.DONE, job.failure
    return BittingList.objects.get(pk=listed.pk)


def findings(listed: BittingList) -> list[tuple[str, bool, str]]:
    """(cell, is an error, sentence) of each finding."""
    return [(found["place"], found["error"], found["text"]) for found in findings_shown(listed, "")]


def writing(cast: Cast, listed: BittingList, **facts: Any) -> Job:
    given: dict[str, Any] = {"version": listed.version, "digest": listed.digest, "despite_warnings": True}
    return start_writing(actor=cast.locksmith, listed=listed, **given | facts)
