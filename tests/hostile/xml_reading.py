"""Run inside the confined child: what the library that reads workbooks does with XML that declares things."""

import io
import sys
from typing import Any


def parse(content: bytes) -> dict[str, Any]:
    """By each of the library's own doors, without our look at the bytes before it."""
    import openpyxl.xml
    from openpyxl.xml import functions

    told = {}
    for name, door in (("fromstring", _whole), ("iterparse", _by_events)):
        try:
            told[name] = door(functions, content)
        except Exception as error:  # which one is what is told
            told[name] = type(error).__name__
    modules = {name: getattr(functions, name).__module__ for name in ("fromstring", "iterparse")}
    return {
        "told": told,
        "modules": modules,
        "in_force": openpyxl.xml.DEFUSEDXML,
        "lxml": "lxml.etree" in sys.modules,
    }


def _whole(functions: Any, content: bytes) -> str:
    return str(functions.fromstring(content).text)


def _by_events(functions: Any, content: bytes) -> str:
    return str([element.text for _, element in functions.iterparse(io.BytesIO(content))])


def load(content: bytes) -> str:
    """A whole workbook, again without our look before it."""
    from openpyxl import load_workbook

    try:
        book = load_workbook(io.BytesIO(content), read_only=True, keep_links=False)
        return str([[cell.value for cell in row] for row in book.worksheets[0].iter_rows()])
    except Exception as error:  # which one is what is told
        return type(error).__name__
