"""Taking a table: registered first, made at once where it is short, by a job where it is long."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any

from django.db import transaction
from django.urls import reverse
from django.utils import timezone
from django.utils.functional import lazy
from django.utils.text import format_lazy
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from keyctl.accounts.models import User
from keyctl.audit.services import record
from keyctl.exports.models import TakenTable
from keyctl.exports.tables import TABLES, Table
from keyctl.exports.tables.columns import Cell, Narrowed
from keyctl.jobs.kinds import register_kind
from keyctl.jobs.models import Job
from keyctl.jobs.running import Running
from keyctl.jobs.services import start_job
from keyctl.lib.errors import Refused
from keyctl.lib.language import in_english, in_sentence
from keyctl.lib.numbers import as_number
from keyctl.lib.paging import as_ordered
from keyctl.lib.spreadsheets import as_csv
from keyctl.places.access import require_some
from keyctl.prints.workbook import SheetOfRows, write_workbook

Form = TakenTable.Form
MOST_AT_ONCE = 2_000
READ_AT_ONCE = 500
TYPES = {
    Form.CSV: "text/csv; charset=utf-8",
    Form.WORKBOOK: "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet",
}


@dataclass(frozen=True)
class Taken:
    """Either the file, or the job that makes it."""

    table: TakenTable
    content: bytes = b""
    job: Job | None = None


def register_kinds() -> None:
    for table in TABLES.values():
        label = format_lazy(gettext_lazy("Make a table: {title}"), title=lazy(in_sentence, str)(table.title))
        register_kind(job_kind(table), label, make_table, file_roles=table.takers, for_starter=True)


def job_kind(table: Table) -> str:
    return f"exports.{table.name}"


@transaction.atomic
def take_table(*, actor: User, table: Table, form: str, said: Narrowed) -> Taken:
    """What leaves is written down with how it was narrowed, before it leaves."""
    require_some(table.sites(actor))
    if form not in Form.values:
        raise Refused(_("Choose CSV or XLSX."))
    narrowed = table.narrowed(said)
    taken = TakenTable.objects.create(
        table=table.name,
        form=form,
        words=_words(table.told(actor, narrowed)),
        tells_of_people=table.tells_of_people,
        actor=actor,
    )
    taken.sites.set(table.sites_told(actor, narrowed))
    if table.rows(actor, narrowed).count() > MOST_AT_ONCE:
        return Taken(taken, job=_start(taken, table, narrowed))
    rows = list(_rows(table, actor, narrowed))
    _end(taken, table, len(rows))
    return Taken(taken, content=_written(taken, table, rows))


def make_table(running: Running) -> dict[str, Any]:
    """The job. Short enough to begin anew after a stop; rights are asked for by the rows themselves."""
    taken = TakenTable.objects.select_related("actor").get(pk=running.parameters["taken"])
    table, narrowed = TABLES[taken.table], running.parameters["narrowed"]
    require_some(table.sites(running.actor))
    total, rows = table.rows(running.actor, narrowed).count(), list[list[Cell]]()
    running.step(0, total, _("Reading the rows"))
    for row in _rows(table, running.actor, narrowed):
        rows.append(row)
        if len(rows) % READ_AT_ONCE == 0:
            running.step(len(rows), max(total, len(rows)), _("Reading the rows"))
    running.step(len(rows), len(rows), _("Writing the file"))
    content = _written(taken, table, rows)
    with transaction.atomic():
        _end(taken, table, len(rows))
        running.attach(taken.file_name, TYPES[Form(taken.form)], content, subjects=[taken])
    sentence = _("{title}: {rows} rows as {form}, {taken}.").format(
        title=table.title, rows=as_number(len(rows)), form=taken.get_form_display(), taken=taken
    )
    return {"sentence": sentence, "facts": {_("Export"): str(taken), _("Rows"): len(rows)}}


def _words(told: Mapping[str, str]) -> str:
    return ", ".join(f"{name}: {word}" for name, word in told.items())[: TakenTable.LONGEST_WORDS]


def _start(taken: TakenTable, table: Table, narrowed: Narrowed) -> Job:
    taken.job = start_job(
        actor=taken.actor,
        kind=job_kind(table),
        site=table.sites(taken.actor).order_by("code")[0],
        parameters={"taken": str(taken.pk), "narrowed": dict(narrowed)},
        subjects=[taken],
        back_url=reverse(table.page),
        about=str(taken),
    )
    taken.save(update_fields=["job"])
    return taken.job


def _rows(table: Table, actor: User, narrowed: Narrowed) -> Iterator[list[Cell]]:
    for row in as_ordered(table.rows(actor, narrowed), READ_AT_ONCE):
        yield table.cells(row)


def _end(taken: TakenTable, table: Table, rows: int) -> None:
    taken.rows, taken.made_at = rows, timezone.now()
    taken.save(update_fields=["rows", "made_at"])
    sites = list(taken.sites.values_list("pk", flat=True)[:2])
    whose = ", with the names of holders" if taken.tells_of_people else ""
    what = in_english(table.title).lower()
    record(
        actor=taken.actor,
        verb="table.taken",
        sentence=f"took {what} as {taken.form.upper()}{whose}: {rows} rows, export {taken}",
        site_id=sites[0] if len(sites) == 1 else None,
        subjects=[taken],
        detail={"table": taken.table, "form": taken.form, "rows": rows, "narrowed": taken.words},
    )


def _written(taken: TakenTable, table: Table, rows: list[list[Cell]]) -> bytes:
    if taken.form == Form.CSV:
        return as_csv([table.headings, *rows])
    # Headings and words of a file are data, which `imports` takes in again: in English, whoever takes them.
    title = in_english(table.title)
    facts = [
        ("What", title),
        ("Narrowed to", taken.words or "nothing: all that the person may see"),
        ("Taken by", str(taken.actor)),
        ("Taken", timezone.localtime(taken.asked_at).strftime("%Y-%m-%d %H:%M %Z")),
        ("Export", str(taken)),
    ]
    sheet = SheetOfRows(title[:31], table.sheet_columns, rows)
    return write_workbook(facts, sheet, f"{title}: export {taken}")
