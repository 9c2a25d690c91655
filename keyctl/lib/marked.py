"""Refusals where no Django is, as in a confined child: marked for the catalogue, with places for facts.

Who waits for the child says them in the language of whoever looks.
"""

from keyctl.lib.errors import Refused


def gettext_noop(text: str) -> str:
    """By this name the catalogue is gathered."""
    return text


class RefusedInside(Refused):
    def __init__(self, text: str, **facts: str | int) -> None:
        super().__init__(text.format(**facts))
        self.text, self.facts = text, facts
