"""What a confined child refuses is said in the language of whoever waits for it."""

import pytest
from django.utils.translation import override

from keyctl.lib.errors import Refused
from keyctl.lib.sheets import MOST_ROWS, read_sheet


@pytest.mark.parametrize(
    ("content", "english", "german"),
    [
        (b"", "There is nothing in this file.", "In dieser Datei steht nichts."),
        (b"a" * 300, "more than 200 signs", "mehr als 200 Zeichen"),
        (b"a\n" * (MOST_ROWS + 1), "more than 30,000 rows", "mehr als 30.000 Zeilen"),
        (b"PK\x03\x04 broken", "cannot be unpacked", "lässt sich nicht entpacken"),
    ],
)
def test_a_refusal_comes_out_of_the_child_in_the_language_of_the_page(
    content: bytes, english: str, german: str
) -> None:
    for language, words in (("en-gb", english), ("de", german)):
        with override(language), pytest.raises(Refused) as refused:
            read_sheet(content)
        assert words in refused.value.message
