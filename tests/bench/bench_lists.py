"""A long keying schedule to PDF: as the lines of one width that the product sets, and as a table."""

import os
import time
from collections.abc import Callable
from html import escape
from typing import TYPE_CHECKING

import django

from tests.bench.report import Report

if TYPE_CHECKING:
    from keyctl.prints.rows import CoreRow

CORES = 1000
WANTED = 3


def run(report: Report) -> None:
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "tests.settings")
    django.setup()
    ours_s, lines = timed(as_lines)
    theirs_s, table = timed(as_table)
    report.ratio(f"keying schedule of {CORES:,} cores to PDF, lines : table", ours_s, theirs_s, WANTED)
    report.note(f"{len(lines):,} and {len(table):,} bytes")


def timed(work: Callable[[], bytes]) -> tuple[float, bytes]:
    """Processor seconds of a second run, so that neither pays for fonts and style sheets being read first."""
    work()
    begun = time.process_time()
    made = work()
    return time.process_time() - begun, made


def as_lines() -> bytes:
    """The way of the export, without its cover."""
    from django.template.loader import render_to_string

    from keyctl.prints import lists
    from keyctl.prints.exporting import PAGES_AT_ONCE
    from keyctl.prints.pdf import Booklet

    pages = list(enumerate(lists.schedule_pages(_rows()), 1))
    sheet = lists.ListSheet("List", "keying-schedule", "System", "Somebody, now, NUMBER", (), ())
    booklet = Booklet()
    for start in range(0, len(pages), PAGES_AT_ONCE):
        part = {"sheet": sheet, "pages": pages[start : start + PAGES_AT_ONCE], "total": len(pages)}
        booklet.add(render_to_string("prints/listing.html", part))
    return booklet.write()


def as_table() -> bytes:
    """The same words in one table with fixed columns and the sheet's own style."""
    from keyctl.prints import lists
    from keyctl.prints.pdf import render_pdf

    head = "".join(f"<th>{column.title}</th>" for column in lists.SCHEDULE_COLUMNS)
    body = "".join(
        "<tr>" + "".join(f"<td>{escape(text)}</td>" for text in lists.schedule_line(row)) + "</tr>"
        for row in _rows()
    )
    style = "<style>@page { size: A4 landscape } table { table-layout: fixed; width: 100% }</style>"
    table = f'<table class="table"><thead><tr>{head}</tr></thead><tbody>{body}</tbody></table>'
    return render_pdf(style + table)


def _rows() -> "list[CoreRow]":
    from keyctl.prints.rows import CoreRow

    return [
        CoreRow(
            building="H1",
            floor="2",
            door=f"{number:04}",
            room="Plant room",
            place="Mortise cylinder",
            core=f"TAG-{number:05}",
            construction="small-format",
            keyed_to=(f"AA{number}",),
            planned=(f"AA{number}", "AA", "A"),
            is_pinned=True,
            turned=(f"AA{number}", "AA", "A"),
            withdrawn=("CTL",),
            meant_to_withdraw=("CTL",),
        )
        for number in range(CORES)
    ]
