"""Finding one's way in a file that WeasyPrint is about to write."""

from typing import Any


def pages_of(pdf: Any) -> list[Any]:
    """Each page is named by three entries: its number, its generation, and a letter."""
    return [pdf.objects[number] for number in pdf.pages["Kids"][::3]]


def object_of(pdf: Any, reference: bytes) -> Any:
    return pdf.objects[int(reference.split()[0])]
