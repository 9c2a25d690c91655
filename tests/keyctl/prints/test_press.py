"""Tables that are set by ourselves: nothing is lost, each cell is tagged, other scripts find their place."""

import io
from datetime import UTC, datetime
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from pypdf import PdfReader
from pytest_django import Settings

from keyctl.prints.frame import Head, Secrecy, set_print
from keyctl.prints.lists.listing import ListSheet
from keyctl.prints.paper import Shape, paper
from keyctl.prints.press.blocks import (
    Area,
    Block,
    Boxes,
    Column,
    Grid,
    Words,
    loose,
    parted,
    rows_of,
    stacked,
)
from keyctl.prints.press.codes import code_of
from keyctl.prints.press.face import covers
from tests.keyctl.prints.reading import cells_of, counted_by_pdfium, faults_of, pages_of, text_of

WORDS = st.text("abcXYZ 0123456789-äЖ→", min_size=0, max_size=40)
COLUMNS = (Column("One", 12), Column("Two", 16), Column("Three", 10))
AT = datetime(2026, 11, 27, 10, 0, tzinfo=UTC)
# Each row is another one, some are long, and the last names are set from right to left or beyond the face.
ROWS = [
    (f"A{nth}", f"Plant room {nth}" if nth % 7 else "Behind the second staircase", str(nth))
    for nth in range(150)
]
STRAYS = ["שער", "cafe\u0301", "正門"]


def head(secrecy: Secrecy = Secrecy.LOCKED) -> Head:
    return Head("Door list", "North", "A. Locksmith", AT, secrecy, "North site", "BCDF-2345")


def listed(areas: list[Area], **facts: Any) -> bytes:
    sheet = ListSheet((("Doors", "150"),), ())
    return set_print("prints/listing.html", head(), areas={"rows": areas}, sheet=sheet, **facts)


@pytest.fixture(scope="module")
def long_list() -> bytes:
    return listed(list(parted(Grid(COLUMNS, rows_of(COLUMNS, ROWS)), paper().body_height)))


@settings(max_examples=60)
@given(st.lists(st.tuples(WORDS, WORDS, WORDS), max_size=30), st.floats(60, 300), st.floats(60, 300))
def test_a_parted_table_loses_no_word_and_no_row(
    rows: list[tuple[str, str, str]], height: float, first: float
) -> None:
    grid = Grid(COLUMNS, rows_of(COLUMNS, rows))
    areas = list(parted(grid, height, first))
    parts = [block.parts[0] for area in areas for block in area.blocks]
    assert [row for part in parts if isinstance(part, Grid) for row in part.rows] == list(grid.rows)
    said = "".join("".join(cell) for row in grid.rows for cell in row).replace(" ", "")
    assert said == "".join("".join(row) for row in rows).replace(" ", "")
    for nth, area in enumerate(areas):
        assert area.height == (height if nth else first)
        [block] = area.blocks
        # One row that is higher than a page cannot be helped.
        assert block.height <= area.height or len(block.parts[0].rows) == 1  # type: ignore[union-attr]


@given(st.lists(st.floats(5, 90), max_size=30), st.floats(100, 200))
def test_blocks_are_stacked_in_order_and_none_is_parted(sizes: list[float], height: float) -> None:
    blocks = [Block((Words(str(nth), size),)) for nth, size in enumerate(sizes)]
    areas = list(stacked(blocks, height))
    assert [block for area in areas for block in area.blocks] == blocks
    for area in areas:
        assert sum(block.height for block in area.blocks) <= height or len(area.blocks) == 1


def test_every_cell_of_a_long_list_stands_in_the_tree(long_list: bytes) -> None:
    pages = pages_of(long_list)
    rows = [row for row in cells_of(long_list) if row != ["One", "Two", "Three"]]
    assert rows == [list(row) for row in ROWS]
    assert len(pages) >= 4
    for number, page in enumerate(pages, 1):
        assert f"BCDF-2345, Page {number} of {len(pages)}" in page
        assert "North site: Door list, North" in page


def test_it_keeps_what_a_program_can_ask_of_universal_accessibility(long_list: bytes) -> None:
    assert faults_of(long_list) == []
    found = counted_by_pdfium(long_list)
    tables = found["Table"]
    assert (found["TR"], found["TD"]) == (len(ROWS) + tables, 2 * len(ROWS))
    assert found["TH"] == len(ROWS) + 3 * tables


def test_the_reader_finds_what_is_wrong_with_a_print_that_is_not_tagged() -> None:
    """The referee itself: WeasyPrint without tags, then with them, where a table has no heads."""
    from weasyprint import HTML

    table = '<html lang="en"><title>T</title><table><tr><td>a</td></tr></table>'
    with pytest.raises(KeyError):
        faults_of(HTML(string=table).write_pdf())
    assert faults_of(HTML(string=table).write_pdf(pdf_variant="pdf/ua-1")) == ["a table without heads"]


def test_names_in_other_scripts_are_set_by_the_setter_of_pages() -> None:
    assert not any(map(covers, STRAYS))
    rows = [("A1", STRAYS[0], "1")]
    made = listed(loose([Block((Grid(COLUMNS, rows_of(COLUMNS, rows)),))]))
    assert STRAYS[0] in text_of(made) or STRAYS[0][::-1] in text_of(made)
    assert faults_of(made) == []


def test_a_secret_print_is_marked_across_each_page_and_reads_that_to_nobody() -> None:
    block = Block(
        (Words("B4K2", tag="H2"), Boxes(("Built", "Tried"))), code_of("HTTPS://KEYS/Q/B4K2", "Code of B4K2")
    )
    sheet = ListSheet((), ())
    facts = {"areas": {"rows": loose([block])}, "sheet": sheet}
    made = set_print("prints/listing.html", head(Secrecy.BITTINGS), **facts)  # type: ignore[arg-type]
    mark = "A. Locksmith, 27 Nov 2026, 10:00, BCDF-2345"
    assert text_of(made).count(mark) == 3
    assert faults_of(made) == []
    assert "SECRET" in text_of(made)


@pytest.mark.parametrize(("name", "size"), [("a4", (595, 842)), ("letter", (612, 792))])
def test_the_paper_is_a_setting(name: str, size: tuple[int, int], settings: Settings) -> None:
    """ISO 216 and ANSI/ASME Y14.1: 210 x 297 mm, 8.5 x 11 in; a large sheet is two of them side by side."""
    settings.PAPER = name
    for shape, sides in ((Shape.UPRIGHT, size), (Shape.LARGE, (2 * size[0], size[1]))):
        columns = (Column("Door", 30), Column("Key", 10))
        grid = Grid(columns, rows_of(columns, [("A1", "AA1")]))
        made = listed(list(parted(grid, paper(shape).body_height)), shape=shape)
        pages = PdfReader(io.BytesIO(made)).pages
        boxes = [page.mediabox[2:] for page in pages]
        assert [pytest.approx(box, abs=1) for box in boxes] == [list(sides)] * 2


def test_the_same_print_is_the_same_file(long_list: bytes) -> None:
    again = listed(list(parted(Grid(COLUMNS, rows_of(COLUMNS, ROWS)), paper().body_height)))
    assert again == long_list


def test_a_print_can_be_stopped_between_two_areas() -> None:
    class Stop(Exception):
        pass

    seen: list[int] = []

    def told(done: int) -> None:
        seen.append(done)
        if done == 2:
            raise Stop

    areas = list(parted(Grid(COLUMNS, rows_of(COLUMNS, ROWS)), paper().body_height))
    with pytest.raises(Stop):
        listed(areas, told=told)
    assert seen == [1, 2]
