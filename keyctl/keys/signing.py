"""How a person signs at the desk: strokes drawn on a screen, or their name typed.

Strokes arrive as an SVG path from a browser and stand in prints and pages later; so only one small grammar
passes: ``M`` and ``L`` with two numbers each, inside a fixed field.
"""

import re
from dataclasses import dataclass
from typing import Final

from django.utils.translation import gettext

from keyctl.lib.errors import Refused

WIDTH: Final = 1000
HEIGHT: Final = 400
MOST_SIGNS: Final = 30_000
FEWEST_POINTS: Final = 6
SMALLEST_EXTENT: Final = 20
LONGEST_NAME: Final = 120

_NUMBER = r"[0-9]{1,4}(?:\.[0-9]{1,2})?"
_POINT = rf"{_NUMBER}[ ,]{_NUMBER}"
_PATH = re.compile(rf"(?:M ?{_POINT}(?: ?L ?{_POINT})+ ?)+")
_POINTS = re.compile(rf"({_NUMBER})[ ,]({_NUMBER})")


@dataclass(frozen=True)
class Signature:
    """``name`` as typed; ``path`` the strokes, ``M x y L x y …`` in a field of 1000 by 400 .

    With strokes the name may be empty: the holder's own then stands beside them.
    """

    name: str = ""
    path: str = ""

    @property
    def is_drawn(self) -> bool:
        return bool(self.path.strip())


def checked_signature(signature: Signature) -> Signature:
    """The signature as it is kept, or a refusal that says what to do."""
    name = " ".join(signature.name.split())
    if len(name) > LONGEST_NAME:
        raise Refused(
            gettext("The name is longer than {longest_name} letters. Type a shorter form of it.").format(
                longest_name=LONGEST_NAME
            )
        )
    if signature.is_drawn:
        return Signature(name, clean_path(signature.path))
    if not name:
        raise Refused(gettext("Nobody has signed. The person who takes the key signs, or types their name."))
    return Signature(name)


def clean_path(text: str) -> str:
    """The strokes in one fixed spelling.

    >>> clean_path("M 10,10 L 200 40L10 80 L 90 90 L 10 120 L 40 80")
    'M10 10L200 40L10 80L90 90L10 120L40 80'
    """
    text = text.strip()
    if len(text) > MOST_SIGNS or not _PATH.fullmatch(text):
        raise Refused(gettext("The strokes of the signature cannot be read. Clear the field and sign again."))
    points = [(float(x), float(y)) for x, y in _POINTS.findall(text)]
    _refuse_no_signature(points)
    return text.replace(",", " ").replace("M ", "M").replace("L ", "L").replace(" L", "L").replace(" M", "M")


def _refuse_no_signature(points: list[tuple[float, float]]) -> None:
    across, down = [x for x, _ in points], [y for _, y in points]
    if max(across) > WIDTH or max(down) > HEIGHT:
        raise Refused(gettext("The signature runs out of its field. Clear the field and sign again."))
    extent = max(max(across) - min(across), max(down) - min(down))
    if len(points) < FEWEST_POINTS or extent < SMALLEST_EXTENT:
        raise Refused(gettext("That is too little for a signature. Sign again, or type the name."))
