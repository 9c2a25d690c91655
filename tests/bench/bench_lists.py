"""A long keying schedule to PDF: set cell by cell as the product does, and as a table by WeasyPrint."""

import os
import time
from collections.abc import Callable
from html import escape
from typing import TYPE_CHECKING

import django

from tests.bench.report import Report, sized

if TYPE_CHECKING:
    from keyctl.prints.lists.rows import CoreRow

CORES = sized(1000, 40)
WANTED = 3


def run(report: Report) -> None:
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "tests.settings")
    django.setup()
    ours_s, areas = timed(as_areas)
    theirs_s, table = timed(as_table)
    report.ratio(f"keying schedule of {CORES:,} cores to PDF, our cells : table", ours_s, theirs_s, WANTED)
    report.note(f"{len(areas):,} and {len(table):,} bytes")


def timed(work: Callable[[], bytes]) -> tuple[float, bytes]:
    """Processor seconds of a second run, so that neither pays for fonts and style sheets being read first."""
    work()
    begun = time.process_time()
    made = work()
    return time.process_time() - begun, made


def as_areas() -> bytes:
    """The way of the export."""
    from keyctl.prints.frame import Head, now, set_print
    from keyctl.prints.lists import listing
    from keyctl.prints.paper import Shape

    head = Head("Keying schedule", "System", "Somebody", now(), number="NUMBER")
    areas = {"rows": list(listing.schedule_areas(_rows()))}
    sheet = listing.ListSheet((), ())
    return set_print("prints/listing.html", head, areas=areas, shape=Shape.WIDE, sheet=sheet)


def as_table() -> bytes:
    """The same words in one table with fixed columns and the sheet's own style."""
    from keyctl.prints.lists import listing
    from keyctl.prints.pdf import render_pdf

    head = "".join(f"<th>{column.title}</th>" for column in listing.SCHEDULE_COLUMNS)
    body = "".join(
        "<tr>" + "".join(f"<td>{escape(text)}</td>" for text in listing.schedule_line(row)) + "</tr>"
        for row in _rows()
    )
    style = "<style>@page { size: A4 landscape } table { table-layout: fixed; width: 100% }</style>"
    table = f'<table class="table"><thead><tr>{head}</tr></thead><tbody>{body}</tbody></table>'
    return render_pdf(f'<!doctype html><html lang="en"><title>Keying schedule</title>{style}{table}')


def _rows() -> "list[CoreRow]":
    from keyctl.prints.lists.rows import CoreRow

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
