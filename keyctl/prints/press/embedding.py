"""The face among the fonts of a file: a composite font with the signs of this print (ISO 32000-1, 9.7)."""

from typing import Any

import pydyf

from keyctl.prints.press.face import ADVANCE, NAME, Face
from keyctl.prints.press.reaching import object_of, pages_of

# What the operators of a page call it.
FONT = "/KPress"
# One width for all signs, and signs beyond the Latin ones.
FLAGS = 5
CAPITALS, STEMS = 729, 80


def embed(pdf: Any, face: Face) -> None:
    """All pages share their fonts."""
    file = pydyf.Stream([face.file], pydyf.Dictionary({"Length1": len(face.file)}), compress=True)
    meaning = pydyf.Stream([face.to_unicode()], compress=True)
    inner = _kept(pdf, _inner(_kept(pdf, _descriptor(face, _kept(pdf, file)))))
    outer = _kept(pdf, _outer(inner, _kept(pdf, meaning)))
    resources = object_of(pdf, pages_of(pdf)[0]["Resources"])
    object_of(pdf, resources["Font"])[FONT.removeprefix("/")] = outer


def _kept(pdf: Any, thing: Any) -> bytes:
    pdf.add_object(thing)
    reference: bytes = thing.reference
    return reference


def _descriptor(face: Face, file: bytes) -> Any:
    facts = face.facts()
    return pydyf.Dictionary(
        {
            "Type": "/FontDescriptor",
            "FontName": f"/{NAME}",
            "Flags": FLAGS,
            "ItalicAngle": 0,
            "StemV": STEMS,
            "CapHeight": CAPITALS,
            "Ascent": facts["Ascent"],
            "Descent": facts["Descent"],
            "FontBBox": pydyf.Array(facts["FontBBox"]),
            "FontFile2": file,
        }
    )


def _inner(descriptor: bytes) -> Any:
    names = {"Registry": pydyf.String("Adobe"), "Ordering": pydyf.String("Identity"), "Supplement": 0}
    return pydyf.Dictionary(
        {
            "Type": "/Font",
            "Subtype": "/CIDFontType2",
            "BaseFont": f"/{NAME}",
            "CIDSystemInfo": pydyf.Dictionary(names),
            "CIDToGIDMap": "/Identity",
            "DW": ADVANCE,
            "FontDescriptor": descriptor,
        }
    )


def _outer(inner: bytes, meaning: bytes) -> Any:
    return pydyf.Dictionary(
        {
            "Type": "/Font",
            "Subtype": "/Type0",
            "BaseFont": f"/{NAME}",
            "Encoding": "/Identity-H",
            "DescendantFonts": pydyf.Array([inner]),
            "ToUnicode": meaning,
        }
    )
