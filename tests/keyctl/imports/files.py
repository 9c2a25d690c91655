"""Files as people send them, and an import from the first page to the last."""

import csv
import io
from collections.abc import Sequence
from typing import Any

from keyctl.accounts.models import User
from keyctl.imports import services
from keyctl.imports.kinds import find_kind
from keyctl.imports.models import Change, Import, ImportFault
from keyctl.jobs.models import Job
from keyctl.places.models import Site
from keyctl.vault import services as vault
from tests.jobs import finish

DOORS = ["Building", "Floor", "Number", "Room", "Class", "Egress", "Fire-rated", "Locks", "Spaces", "Own ID"]
ROWS = [
    ["A", "Level 1", "101", "Office", "ordinary", "no", "no", "mortise", "101", "D-1"],
    ["A", "Level 1", "102", "Store", "restricted", "", "yes", "mortise, padlock: hasp", "101; 102", "D-2"],
    ["A", "Level 2", "201", "Stairs", "", "yes", "yes", "rim", "", "D-3"],
    ["B", "Ground", "1", "", "critical", "", "", "", "", ""],
]


def as_csv(rows: Sequence[Sequence[str]]) -> bytes:
    text = io.StringIO(newline="")
    csv.writer(text).writerows(rows)
    return text.getvalue().encode("utf-8-sig")


def brought(
    actor: User,
    site: Site,
    rows: Sequence[Sequence[str]] = ROWS,
    *,
    kind: str = "doors",
    header: Sequence[str] = DOORS,
    content: bytes = b"",
    **facts: Any,
) -> Import:
    wanted = find_kind(kind)
    assert wanted is not None
    content = content or as_csv([header, *rows])
    return services.bring_file(
        actor=actor, site=site, kind=wanted, name=f"{kind}.csv", content=content, **facts
    )


def tried(actor: User, site: Site, *args: Any, **facts: Any) -> Import:
    imported = brought(actor, site, *args, **facts)
    job = finish(services.start_trying(actor=actor, imported=imported, version=imported.version))
    assert job.state == Job.State.DONE, failure(job)
    return again(imported)


def take(actor: User, imported: Import) -> Import:
    job = services.start_taking(
        actor=actor,
        imported=imported,
        version=imported.version,
        digest=imported.digest,
        without_errors=True,
    )
    job = finish(job)
    assert job.state == Job.State.DONE, failure(job)
    return again(imported)


def taken(actor: User, site: Site, *args: Any, **facts: Any) -> Import:
    return take(actor, tried(actor, site, *args, **facts))


def undone(actor: User, imported: Import) -> Import:
    job = finish(services.start_undoing(actor=actor, imported=imported, version=imported.version))
    assert job.state == Job.State.DONE, failure(job)
    return again(imported)


def again(imported: Import) -> Import:
    return Import.objects.select_related("site").get(pk=imported.pk)


def faults(imported: Import) -> list[tuple[int, str, str]]:
    """(row, heading, sentence) of each error."""
    rows = ImportFault.objects.filter(imported=imported, is_error=True)
    return list(rows.values_list("row", "column", "message"))


def kept(imported: Import) -> list[tuple[str, str]]:
    """(what, why) of each row that stayed."""
    rows = Change.objects.filter(imported=imported, state__in=["kept", "conflict"])
    return list(rows.values_list("label", "reason"))


def failure(job: Job) -> str:
    return vault.unseal(job, "failure") if job.failure else job.state
