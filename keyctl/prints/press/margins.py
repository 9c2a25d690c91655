"""Head and foot of a page are for the eye: who has a print read aloud wants them once, in its first lines.

WeasyPrint marks them as content that belongs nowhere; here they become artifacts (ISO 32000-1, 14.8.2.2).
"""

from collections.abc import Iterator
from typing import Any

import pydyf

from keyctl.prints.press.reaching import object_of, pages_of


def mark_margins(pdf: Any) -> None:
    """Every piece of content whose node hangs in no tree."""
    lost = {id(node) for node in _lost_nodes(pdf)}
    root = object_of(pdf, pdf.catalog["StructTreeRoot"])
    numbers = object_of(pdf, root["ParentTree"])["Nums"]
    for nth, page in enumerate(pages_of(pdf)):
        nodes = numbers[2 * nth + 1]
        orphans = {mark for mark, node in enumerate(nodes) if id(object_of(pdf, node)) in lost}
        _make_artifacts(object_of(pdf, page["Contents"]), orphans)
        for mark in orphans:
            nodes[mark] = b"null"
    for each in pdf.objects:
        if id(each) in lost:
            # Its number stays: the writer counts on having no gap.
            each.clear()


def _lost_nodes(pdf: Any) -> Iterator[Any]:
    root = object_of(pdf, pdf.catalog["StructTreeRoot"])
    document = object_of(pdf, root["K"][0])
    held = set(document["K"])
    for each in pdf.objects:
        if not isinstance(each, pydyf.Dictionary) or each.get("Type") != "/StructElem":
            continue
        if each.get("P") == document.reference and each.reference not in held:
            yield from _below(pdf, each)


def _below(pdf: Any, node: Any) -> Iterator[Any]:
    yield node
    for kid in node["K"]:
        if isinstance(kid, bytes):
            yield from _below(pdf, object_of(pdf, kid))


def _make_artifacts(content: Any, marks: set[int]) -> None:
    """The mark of a piece is three entries: its tag, its number, and the operator that begins it."""
    entries = content.stream
    for at, entry in enumerate(entries):
        if isinstance(entry, pydyf.Dictionary) and entry.get("MCID") in marks:
            entries[at - 1 : at + 2] = ["/Artifact", "", "BMC"]
