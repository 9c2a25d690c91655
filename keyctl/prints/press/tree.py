"""What the parts of a page are to whoever has it read aloud (ISO 32000-1, 14.7 and 14.8)."""

from typing import Any

import pydyf


class Element(pydyf.Object):  # type: ignore[misc]
    """A node; its kids are numbers of marked content on its page, or nodes."""

    def __init__(self, kind: str, parent: int, page: str, extra: str = "") -> None:
        super().__init__()
        self._kind, self._parent, self._page, self._extra = kind, parent, page, extra
        self.kids: list[str] = []

    @property
    def data(self) -> bytes:
        kids = " ".join(self.kids)
        return (
            f"<</Type/StructElem/S/{self._kind}/P {self._parent} 0 R/Pg {self._page}/K[{kids}]{self._extra}>>"
        ).encode("ascii")


class PageTree:
    """The nodes of one area, below the node that WeasyPrint made for its place."""

    def __init__(self, pdf: Any, page: str, marked: Any) -> None:
        self._pdf, self._page, self._marked = pdf, page, marked

    def node(self, kind: str, parent: Any, extra: str = "") -> Element:
        element = Element(kind, parent.number, self._page, extra)
        self._pdf.add_object(element)
        kids = parent.kids if isinstance(parent, Element) else parent["K"]
        kids.append(f"{element.number} 0 R")
        return element

    def leaf(self, kind: str, parent: Any, extra: str = "") -> int:
        """A node with content of its own; the number that marks it on the page."""
        element = self.node(kind, parent, extra)
        number = len(self._marked)
        element.kids.append(str(number))
        self._marked.append(f"{element.number} 0 R")
        return number


def string(text: str) -> str:
    """Any text as a string of the file (ISO 32000-1, 7.9.2.2)."""
    return f"<feff{text.encode('utf-16-be').hex()}>"
