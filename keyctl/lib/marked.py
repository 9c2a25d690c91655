"""Refusals where no Django is, as in a confined child: marked for the catalogue, with places for facts.

Who waits for the child says them in the language of whoever looks.
"""

import re
from collections.abc import Mapping
from typing import Final

from keyctl.lib.errors import Refused

PLACE: Final = re.compile(r"\{(\w+)\}")


def gettext_noop(text: str) -> str:
    """By this name the catalogue is gathered."""
    return text


class RefusedInside(Refused):
    def __init__(self, text: str, **facts: str | int) -> None:
        super().__init__(text.format(**facts))
        self.text, self.facts = text, facts


def fill(text: str, facts: Mapping[str, object]) -> str:
    """Never by `format`, where somebody else had a hand in either: that gives more than facts."""
    return PLACE.sub(lambda place: str(facts.get(place[1], place[0])), text)
