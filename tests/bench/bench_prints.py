"""Pinning sheets of 500 cores to PDF, and the least that the same setter of pages can do for as much text.

The minimal print has as many pages, and on each of them the same lines of words in one face, without head,
foot, tables, codes or style sheet of ours.
"""

import io
import os
import time
from collections.abc import Callable
from html import escape

import django

from tests.bench.report import Report, sized

CORES = sized(500, 20)
POSITIONS = 7
# At most 1.2 times as long as the minimal page.
WANTED = 1 / 1.2
MINIMAL = (
    "@page { size: A4; margin: 20mm } p { margin: 0; white-space: pre; font: 8.5pt/1.35 'DejaVu Sans Mono' }"
)


def run(report: Report) -> None:
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "tests.settings")
    django.setup()
    ours_s, sheets = timed(pinning_sheets)
    pages = texts_of(sheets)
    for tagged in (False, True):
        theirs_s, minimal = timed(lambda tagged=tagged: minimal_print(pages, tagged=tagged))  # type: ignore[misc]
        count = len(texts_of(minimal))
        words = "minimal page with tags" if tagged else "minimal page"
        remark = f"{len(pages)} and {count} pages"
        name = f"a page of {CORES} pinning sheets : {words}"
        report.ratio(name, ours_s / len(pages), theirs_s / count, WANTED, remark)
    signs = sum(map(len, pages))
    report.note(f"{signs:,} signs on {len(pages)} pages; {len(sheets):,} and {len(minimal):,} bytes")


def timed(work: Callable[[], bytes]) -> tuple[float, bytes]:
    """Processor seconds of the quicker of two runs after one for the fonts and style sheets."""
    work()
    best, made = float("inf"), b""
    for _ in range(2):
        begun = time.process_time()
        made = work()
        best = min(best, time.process_time() - begun)
    return best, made


def pinning_sheets() -> bytes:
    """The way of `print_pinning_sheet`, from pinnings that are open."""
    from keyctl.prints.frame import Head, Secrecy, now, set_print
    from keyctl.prints.press.blocks import loose
    from keyctl.prints.sheets.core_blocks import core_block
    from keyctl.prints.sheets.stacks import CoreOnSheet, PinningSheet, StackOnSheet

    stacks = tuple(
        StackOnSheet(at + 1, str(at), "8" if at % 2 else "4 + 2", "7", "10", "23") for at in range(POSITIONS)
    )
    cores = tuple(
        CoreOnSheet(
            tag=f"BCDF-GHJK-{nth:04}",
            address=f"HTTPS://KEYS.EXAMPLE/Q/BCDFGHJK{nth:04}",
            format_name="Small format A2, 7 pins",
            starts_at="tip",
            stacks=stacks,
            has_control=True,
        )
        for nth in range(CORES)
    )
    sheet = PinningSheet(cores, (), ())
    head = Head("Pinning sheet", "Order 17", "A. Locksmith", now(), Secrecy.BITTINGS, "North", "BCDF-2345")
    areas = {"cores": loose(map(core_block, cores))}
    return set_print("prints/pinning_sheet.html", head, areas=areas, sheet=sheet)


def texts_of(document: bytes) -> list[str]:
    from pypdf import PdfReader

    return [page.extract_text() for page in PdfReader(io.BytesIO(document)).pages]


def minimal_print(pages: list[str], *, tagged: bool) -> bytes:
    """Every page's lines again, a paragraph for each."""
    import weasyprint

    html = ['<!doctype html><html lang="en"><title>Minimal</title>']
    for nth, text in enumerate(pages):
        lines = "".join(f"<p>{escape(line)}</p>" for line in text.splitlines())
        html.append(f'<div style="break-before: {"page" if nth else "auto"}">{lines}</div>')
    sheets = [weasyprint.CSS(string=MINIMAL)]
    variant = "pdf/ua-1" if tagged else None
    made: bytes = weasyprint.HTML(string="".join(html)).write_pdf(stylesheets=sheets, pdf_variant=variant)
    return made
