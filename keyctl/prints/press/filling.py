"""Putting areas onto the pages of a print that WeasyPrint set: it calls us before it writes the file.

A template leaves a place for each area, in order: `{% include "prints/_areas.html" %}`.
"""

import math
from collections.abc import Callable, Sequence
from typing import Any

import pydyf

from keyctl.prints.press.blocks import Area
from keyctl.prints.press.embedding import FONT, embed
from keyctl.prints.press.face import Face, covers, width_of
from keyctl.prints.press.ink import Pen
from keyctl.prints.press.margins import mark_margins
from keyctl.prints.press.reaching import object_of, pages_of
from keyctl.prints.press.tree import PageTree

POINTS = 0.75  # of a pixel of CSS
# The node that WeasyPrint makes for <article>; templates use it for the places of areas and nothing else.
PLACE = "/Art"
MARK_SIZE = 12.0
MARK_ANGLE = math.radians(24)
MARK_GREY = 0.87

Finisher = Callable[[Any, Any], None]


def filled(areas: Sequence[Area], mark: str = "", told: Callable[[int], None] | None = None) -> Finisher:
    """Fills the places with the areas; ``mark`` stands across every page, behind everything.

    ``told`` hears how many areas are done, and may raise to stop.
    """
    mark = mark if covers(mark) else "".join(sign if covers(sign) else "·" for sign in mark)

    def finish(document: Any, pdf: Any) -> None:
        mark_margins(pdf)
        if not areas and not mark:
            return
        face = Face([mark, *(text for area in areas for text in area.texts if covers(text))])
        embed(pdf, face)
        drawn = _drawn(document, pdf, face, areas, told)
        for number, page in enumerate(pages_of(pdf)):
            under = _watermark(page, face, mark) if mark else ""
            if under or number in drawn:
                _wrap(pdf, page, under, "\n".join(drawn.get(number, ())))

    return finish


def _drawn(
    document: Any, pdf: Any, face: Face, areas: Sequence[Area], told: Callable[[int], None] | None
) -> dict[int, list[str]]:
    """The content of each page by its number."""
    found: dict[int, list[str]] = {}
    if not areas:
        return found
    nodes = [each for each in pdf.objects if isinstance(each, pydyf.Dictionary) and each.get("S") == PLACE]
    pages, numbers, references = pages_of(pdf), _marked_content(pdf), pdf.page_references
    places = _places(document, len(areas))
    in_order = sorted(range(len(areas)), key=lambda nth: (places[nth][0], places[nth][2]))
    for done, (nth, node) in enumerate(zip(in_order, nodes, strict=True), 1):
        area, (page, left, top, width) = areas[nth], places[nth]
        tree = PageTree(pdf, references[page].decode(), numbers[page])
        high = pages[page]["MediaBox"][3]
        found.setdefault(page, []).append(Pen(face, tree, left, high - top, width).area(area, node))
        if told:
            told(done)
    return found


def _places(document: Any, count: int) -> list[tuple[int, float, float, float]]:
    """Page, left, top and width of each place, in points."""
    found: dict[int, tuple[int, float, float, float]] = {}
    for number, page in enumerate(document.pages):
        right = (page.width - page._page_box.margin_right) * POINTS
        for name, corners in page.anchors.items():
            if name.startswith("area-"):
                left, top = corners[0] * POINTS, corners[1] * POINTS
                found[int(name.removeprefix("area-"))] = (number, left, top, right - left)
    return [found[nth] for nth in range(count)]


def _marked_content(pdf: Any) -> list[Any]:
    """For each page, the nodes of its marked content by number."""
    root = object_of(pdf, pdf.catalog["StructTreeRoot"])
    numbers = object_of(pdf, root["ParentTree"])["Nums"]
    return [numbers[2 * page + 1] for page in range(len(pdf.pages["Kids"]) // 3)]


def _wrap(pdf: Any, page: Any, under: str, over: str) -> None:
    """WeasyPrint leaves the page turned about; ours is drawn on it as it was."""
    parts = [pydyf.Stream([text.encode("ascii")], compress=True) for text in (f"{under}\nq", f"Q\n{over}")]
    for part in parts:
        pdf.add_object(part)
    page["Contents"] = pydyf.Array([parts[0].reference, page["Contents"], parts[1].reference])


def _watermark(page: Any, face: Face, mark: str) -> str:
    """Three times across the page, and nothing that is read aloud."""
    wide, high = page["MediaBox"][2:]
    cos, sin = math.cos(MARK_ANGLE), math.sin(MARK_ANGLE)
    half, turn = width_of(mark, MARK_SIZE) / 2, f"{cos:.4f} {sin:.4f} {-sin:.4f} {cos:.4f}"
    shown = " ".join(
        f"{turn} {wide / 2 - cos * half:.2f} {high * at - sin * half:.2f} Tm <{face.hexed(mark)}> Tj"
        for at in (0.2, 0.5, 0.8)
    )
    return f"/Artifact BMC q {MARK_GREY} g BT {FONT} {MARK_SIZE} Tf {shown} ET Q EMC"
