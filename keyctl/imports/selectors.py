"""Reading imports: what a dry run found, what was written, and all of it as a table."""

from codecs import BOM_UTF8
from collections.abc import Iterator
from itertools import islice
from typing import Any

from django.db.models import QuerySet

from keyctl.accounts.models import User
from keyctl.imports.access import visible_imports
from keyctl.imports.kinds import Kind, find_kind
from keyctl.imports.models import Change, Import, ImportFault
from keyctl.lib.spreadsheets import as_csv

# What the page of an import can be narrowed to, by what stands in its address; or to one of its things.
SHOWS = ("errors", "create", "change", "conflict", "kept")
AT_ONCE = 2000


def imports_of(actor: User) -> QuerySet[Import]:
    """Those of the actor's sites and kinds, newest first."""
    return visible_imports(actor).order_by("-uploaded_at", "-pk")


def faults_of(imported: Import) -> QuerySet[ImportFault]:
    """Errors before warnings, each in the order of the file."""
    return imported.faults.order_by("-is_error", "position")


def changes_of(imported: Import, show: str) -> QuerySet[Change]:
    rows = Change.objects.filter(imported=imported).order_by("position")
    if show in {"create", "change"}:
        return rows.filter(act=show)
    if show in {"conflict", "kept"}:
        return rows.filter(state=show)
    return rows.filter(thing=show) if show else rows


def figures_of(imported: Import) -> list[dict[str, Any]]:
    """By thing, in the order of writing: what the dry run counted and what was taken."""
    kind, told = find_kind(imported.kind), imported.counts.get("things", {})
    taken = imported.counts.get("taken", {})
    rows = []
    for thing in kind.things if kind else ():
        figures = told.get(thing.name)
        if figures and (figures["read"] or thing.name == (kind.main if kind else "")):
            rows.append({"name": thing.name, "label": thing.label, **figures, "taken": taken.get(thing.name)})
    return rows


def report_rows(imported: Import, kind: Kind) -> Iterator[tuple[str, ...]]:
    """The whole dry run, and what became of it, for a spreadsheet."""
    yield ("Finding", "Sheet", "Row", "Column", "Thing", "What", "From", "To", "Outcome", "Message")
    for fault in faults_of(imported).iterator(AT_ONCE):
        weight = "Error" if fault.is_error else "Warning"
        yield (weight, fault.sheet, str(fault.row), fault.column, "", "", "", "", "", fault.message)
    labels = {thing.name: thing.label for thing in kind.things}
    for change in changes_of(imported, "").iterator(AT_ONCE):
        said = change.words or [("", "", "")]
        for what, was, becomes in said:
            yield (
                change.get_act_display(),
                change.sheet,
                str(change.row),
                "",
                str(labels.get(change.thing, change.thing)),
                f"{change.label}: {what}" if what else change.label,
                was,
                becomes,
                change.get_state_display(),
                change.reason,
            )


def report_parts(imported: Import, kind: Kind) -> Iterator[bytes]:
    """The same as CSV, part by part: of a large import it is too long to be held whole."""
    rows = report_rows(imported, kind)
    mark = b""
    while part := list(islice(rows, AT_ONCE)):
        yield as_csv(part).removeprefix(mark)
        mark = BOM_UTF8


def told_to_programs(imported: Import, kind: Kind) -> dict[str, Any]:
    """What the command prints: the main thing in full, of the others how many were read, and every fault."""
    things, taken = imported.counts.get("things", {}), imported.counts.get("taken", {})
    told: dict[str, Any] = {}
    for thing in kind.things:
        figures = dict(things.get(thing.name, {"read": 0, "created": 0, "updated": 0, "unchanged": 0}))
        figures |= taken.get(thing.name, {})
        told[thing.name] = figures if thing.name == kind.main else figures["read"]
    told["errors"] = [_as_json(fault) for fault in faults_of(imported) if fault.is_error]
    told["warnings"] = [_as_json(fault) for fault in faults_of(imported) if not fault.is_error]
    told["errors"] += [
        {"sheet": row.sheet, "row": row.row, "column": "", "message": f"{row.label}: {row.reason}"}
        for row in changes_of(imported, "conflict")
    ]
    return told


def _as_json(fault: ImportFault) -> dict[str, Any]:
    return {"sheet": fault.sheet, "row": fault.row, "column": fault.column, "message": fault.message}
