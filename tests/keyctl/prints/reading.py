"""Prints read back by readers that have nothing to do with how they were made: pypdf and pdfium.

What is asked of a print are the parts of ISO 14289-1 (universal accessibility) that a program can decide: it
says that it is tagged, in which language, and shows its title; every piece of text belongs to a node of the
tree or is an artifact; tables have rows of cells and nothing else, with heads; pictures have words; fonts are
embedded.
"""

import ctypes
import io
import re
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import Any

import pypdfium2
import pypdfium2.raw as pdfium
from pypdf import PdfReader
from pypdf.generic import ContentStream

SHOWS = {b"Tj", b"TJ", b"'", b'"', b"Do", b"f", b"S", b"B", b"f*", b"sh"}
TEXT = {b"Tj", b"TJ"}


@dataclass
class Node:
    kind: str
    kids: list["Node"] = field(default_factory=list)
    # (page, number of the marked content)
    marks: list[tuple[int, int]] = field(default_factory=list)
    facts: Any = None

    def walk(self) -> Iterator["Node"]:
        yield self
        for kid in self.kids:
            yield from kid.walk()


def text_of(document: bytes) -> str:
    return "\n".join(pages_of(document))


def pages_of(document: bytes) -> list[str]:
    return [page.extract_text() for page in PdfReader(io.BytesIO(document)).pages]


def tree_of(reader: PdfReader) -> Node:
    pages = {
        page.indirect_reference.idnum: nth for nth, page in enumerate(reader.pages) if page.indirect_reference
    }
    root: Any = reader.root_object["/StructTreeRoot"]
    return Node("Root", [_node(kid.get_object(), pages) for kid in _listed(root["/K"])])


def _node(raw: Any, pages: dict[int, int]) -> Node:
    node = Node(str(raw["/S"])[1:], facts=raw)
    for kid in _listed(raw.get("/K", [])):
        value = kid.get_object()
        if isinstance(value, int):
            node.marks.append((pages[raw.raw_get("/Pg").idnum], int(value)))
        elif value.get("/Type") != "/OBJR":
            node.kids.append(_node(value, pages))
    return node


def _listed(kids: Any) -> list[Any]:
    kids = kids.get_object()
    return list(kids) if isinstance(kids, list) else [kids]


def faults_of(document: bytes) -> list[str]:
    """What a print lacks, in words; none for one that is well tagged."""
    reader = PdfReader(io.BytesIO(document))
    tree = tree_of(reader)
    return [*_promises(reader), *_content_faults(reader, tree), *_shape_faults(tree), *_font_faults(reader)]


def _promises(reader: PdfReader) -> Iterator[str]:
    root: Any = reader.root_object
    if not str(root.get("/Lang", "")).startswith("en"):
        yield "no language"
    if not root.get("/MarkInfo", {}).get("/Marked"):
        yield "not said to be tagged"
    if not root.get("/ViewerPreferences", {}).get("/DisplayDocTitle"):
        yield "shows its file name and not its title"
    if not (reader.metadata and reader.metadata.title):
        yield "no title"
    if b"pdfuaid" not in root["/Metadata"].get_data():
        yield "does not say which standard it keeps"


def _content_faults(reader: PdfReader, tree: Node) -> Iterator[str]:
    """Every mark on a page hangs at exactly one node, and nothing is shown outside of a mark."""
    held = Counter(mark for node in tree.walk() for mark in node.marks)
    for nth, page in enumerate(reader.pages):
        marks, bare = _marked_on(page, reader)
        for number in marks:
            if held[nth, number] != 1:
                yield f"page {nth + 1}: mark {number} hangs at {held[nth, number]} nodes"
        if bare:
            yield f"page {nth + 1}: {bare} things stand outside of any mark"
        mine = {number for page_at, number in held if page_at == nth}
        if mine - set(marks):
            yield f"page {nth + 1}: nodes for marks that are not there: {sorted(mine - set(marks))[:5]}"


def _marked_on(page: Any, reader: PdfReader) -> tuple[list[int], int]:
    open_marks: list[bool] = []
    marks: list[int] = []
    bare = 0
    for operands, operator in ContentStream(page.get_contents(), reader).operations:
        if operator in {b"BDC", b"BMC"}:
            number = operands[1].get("/MCID") if operator == b"BDC" else None
            marks += [int(number)] if number is not None else []
            open_marks.append(number is not None or operands[0] == "/Artifact")
        elif operator == b"EMC":
            open_marks.pop()
        elif operator in SHOWS and not any(open_marks):
            bare += 1
    return marks, bare


def _shape_faults(tree: Node) -> Iterator[str]:
    allowed = {"TR": {"TH", "TD"}, "THead": {"TR"}, "TBody": {"TR"}, "TFoot": {"TR"}}
    tables = [node for node in tree.walk() if node.kind == "Table"]
    for node in tree.walk():
        if node.kind in allowed and {kid.kind for kid in node.kids} - allowed[node.kind]:
            yield f"a {node.kind} holds {sorted({kid.kind for kid in node.kids})}"
        if node.kind == "Figure" and not node.facts.get("/Alt"):
            yield "a picture without words"
    for table in tables:
        if not any(node.kind == "TH" for node in table.walk()):
            yield "a table without heads"
    kinds = Counter(node.kind for node in tree.walk())
    inside = sum(node.kind in {"TH", "TD", "TR"} for table in tables for node in table.walk())
    if inside != kinds["TH"] + kinds["TD"] + kinds["TR"]:
        yield "cells outside of tables"


def _font_faults(reader: PdfReader) -> Iterator[str]:
    for page in reader.pages:
        resources: Any = page["/Resources"]
        fonts = resources.get("/Font", {})
        for name, font in fonts.items():
            inner = font.get_object()["/DescendantFonts"][0].get_object()
            if "/FontFile2" not in inner["/FontDescriptor"] and "/FontFile3" not in inner["/FontDescriptor"]:
                yield f"{name} is not embedded"
            if "/ToUnicode" not in font.get_object():
                yield f"{name} does not say what its signs mean"
        break


def cells_of(document: bytes) -> list[list[str]]:
    """The rows of all tables, as the tree holds them: the text of each cell."""
    reader = PdfReader(io.BytesIO(document))
    texts = {nth: _texts_on(page, reader) for nth, page in enumerate(reader.pages)}
    rows = [node for node in tree_of(reader).walk() if node.kind == "TR"]
    return [[_text_in(cell, texts) for cell in row.kids] for row in rows]


def _text_in(node: Node, texts: dict[int, dict[int, str]]) -> str:
    own = [texts[page].get(mark, "") for each in node.walk() for page, mark in each.marks]
    return " ".join("".join(own).split())


def _texts_on(page: Any, reader: PdfReader) -> dict[int, str]:
    """The text of each mark, through the fonts' own mapping to Unicode."""
    fonts = {name: _meanings(font) for name, font in page["/Resources"].get("/Font", {}).items()}
    found: dict[int, str] = {}
    mark, font = None, ""
    for operands, operator in ContentStream(page.get_contents(), reader).operations:
        if operator == b"BDC":
            mark = operands[1].get("/MCID")
        elif operator == b"EMC":
            mark = None
        elif operator == b"Tf":
            font = operands[0]
        elif operator in TEXT and mark is not None:
            shown = operands[0] if isinstance(operands[0], list) else [operands[0]]
            words = "".join(
                _read(piece, fonts[font]) for piece in shown if not isinstance(piece, int | float)
            )
            found[int(mark)] = f"{found[int(mark)]} {words}" if int(mark) in found else words
    return found


def _meanings(font: Any) -> dict[bytes, str]:
    """What the glyphs mean: one pair for each in both ways of making these files."""
    source = font.get_object()["/ToUnicode"].get_data()
    pairs = re.findall(rb"<([0-9a-fA-F]{4})> <([0-9a-fA-F]{4,})>", source)
    return {
        bytes.fromhex(glyph.decode()): bytes.fromhex(sign.decode()).decode("utf-16-be")
        for glyph, sign in pairs
    }


def _read(piece: Any, meanings: dict[bytes, str]) -> str:
    raw = piece if isinstance(piece, bytes) else piece.original_bytes
    return "".join(meanings[raw[at : at + 2]] for at in range(0, len(raw), 2))


def counted_by_pdfium(document: bytes) -> Counter[str]:
    """How many nodes of each kind another reader finds."""
    found: Counter[str] = Counter()
    opened = pypdfium2.PdfDocument(document)
    for page in opened:
        tree = pdfium.FPDF_StructTree_GetForPage(page)
        for nth in range(pdfium.FPDF_StructTree_CountChildren(tree)):
            _count(pdfium.FPDF_StructTree_GetChildAtIndex(tree, nth), found)
        pdfium.FPDF_StructTree_Close(tree)
    return found


def _count(element: Any, found: Counter[str]) -> None:
    if not element:
        return
    room = ctypes.create_string_buffer(200)
    size = pdfium.FPDF_StructElement_GetType(element, room, 200)
    found[room.raw[: size - 2].decode("utf-16-le")] += 1
    for nth in range(pdfium.FPDF_StructElement_CountChildren(element)):
        _count(pdfium.FPDF_StructElement_GetChildAtIndex(element, nth), found)
