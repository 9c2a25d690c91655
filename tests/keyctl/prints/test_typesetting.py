"""Lists as pages of lines: nothing is lost, and a page is as long as the setter of pages believes."""

import io
import random
import re

from django.template.loader import render_to_string
from hypothesis import given, settings
from hypothesis import strategies as st
from pypdf import PdfReader

from keyctl.prints import lists
from keyctl.prints.lists import ListSheet
from keyctl.prints.pdf import Booklet
from keyctl.prints.rows import CoreRow, KeyRow
from keyctl.prints.typesetting import Column, Line, Paper, in_columns, in_rows

WORDS = st.text("abcXYZ 0123456789-", min_size=0, max_size=40)


def keys(count: int) -> list[KeyRow]:
    draw = random.Random(4)
    return [
        KeyRow("Change key", 2, f"AA{n}", f"M{n // 64}", f"{draw.randrange(10**7):07}") for n in range(count)
    ]


def cores(count: int) -> list[CoreRow]:
    return [
        CoreRow(
            building="H1",
            floor="2",
            door=f"{n:04}",
            room="Plant room behind the second staircase" if n % 3 else "Hall",
            place="Mortise cylinder",
            core=f"TAG-{n:05}",
            construction="small-format",
            keyed_to=(f"AA{n}",),
            planned=(f"AA{n}", "AA", "A"),
            is_pinned=bool(n % 5),
            turned=(f"AA{n}", "AA", "A"),
            withdrawn=("CTL",),
            meant_to_withdraw=("CTL",),
        )
        for n in range(count)
    ]


def printed(pages: list[list[Line]], css_class: str) -> list[str]:
    """The pages as the printer sets them, numbered as the export numbers them."""
    sheet = ListSheet("List", css_class, "System", "Somebody, now, NUMBER", (), ())
    total = len(pages) + 1
    context = {"sheet": sheet, "pages": list(enumerate(pages, 2)), "total": total, "is_first": True}
    booklet = Booklet()
    booklet.add(render_to_string("prints/listing.html", context))
    return [page.extract_text() for page in PdfReader(io.BytesIO(booklet.write())).pages]


def test_full_pages_of_bittings_are_as_many_as_were_counted() -> None:
    rows = keys(1500)
    pages = list(lists.bitting_pages(rows))
    texts = printed(pages, "bitting-list")
    assert len(pages) >= 4
    assert len(texts) == len(pages) + 1
    for number, text in enumerate(texts, 1):
        assert f"Page {number} of {len(texts)}" in text
    found = re.findall(r"\b(AA\d+) +(\d{7})\b", "\n".join(texts))
    assert sorted(found) == sorted((row.symbol, row.bitting) for row in rows)


def test_full_pages_of_cores_are_as_many_as_were_counted() -> None:
    pages = list(lists.schedule_pages(cores(200)))
    texts = printed(pages, "keying-schedule")
    assert len(pages) >= 4
    assert len(texts) == len(pages) + 1
    assert re.findall(r"TAG-\d{5}", "\n".join(texts)) == [f"TAG-{n:05}" for n in range(200)]


@given(st.lists(st.tuples(st.text("abc0", min_size=1, max_size=12), st.booleans()), max_size=80))
def test_columns_lose_nothing_keep_the_order_and_end_in_no_heading(cells: list[tuple[str, bool]]) -> None:
    paper = Paper(30, 7)
    read: list[tuple[str, bool]] = []
    for page in in_columns(cells, paper):
        assert len(page) <= paper.height
        for column in zip(*(line.pieces for line in page), strict=True):
            shown = [(text.rstrip(), heads) for text, heads in column if text.strip()]
            read += shown
            is_full = len(page) == paper.height and column[-1][0].strip()
            is_the_end = len(read) == len(cells)
            if is_full and not is_the_end and shown[-1][1]:
                # A run of headings longer than a column cannot be helped.
                assert all(heads for _, heads in shown)
    assert read == cells


@settings(max_examples=60)
@given(st.lists(st.tuples(WORDS, WORDS, WORDS), max_size=30))
def test_rows_lose_no_word_and_stay_together(rows: list[tuple[str, str, str]]) -> None:
    columns, paper = (Column("One", 12), Column("Two", 16), Column("Three", 10)), Paper(38, 9)
    pages = list(in_rows(columns, rows, paper))
    lines = [line for page in pages for line in page[1:]]
    text = "".join("".join(piece for piece, _ in line.pieces) for line in lines)
    assert sorted(text.replace(" ", "")) == sorted("".join("".join(row) for row in rows).replace(" ", ""))
    assert sum(line.is_last for line in lines) == len(rows)
    for page in pages:
        assert page[0].pieces[0][1]
        assert page[-1].is_last
        assert len(page) <= paper.height or sum(line.is_last for line in page[1:]) == 1
