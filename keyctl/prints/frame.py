"""The frame of every print: the same head, foot, sizes and marks, whatever it is about.

At the head stand the site and what it is, when it was made and by whom; at the foot how it is to be kept, its
number and its page. `templates/prints/frame.html` and `css/print-sheet.css` set it.
"""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from enum import Enum
from itertools import count
from typing import Any

from django.template.loader import render_to_string
from django.utils import timezone
from django.utils.translation import gettext_lazy

from keyctl.lib.days import moment
from keyctl.lib.language import Text
from keyctl.lib.tags import grouped, new_tag
from keyctl.prints.paper import Shape
from keyctl.prints.pdf import render_pdf
from keyctl.prints.press.blocks import Area
from keyctl.prints.press.filling import filled
from keyctl.prints.press.strays import Stray, strays_of

# What is more than that is set by a job.
MOST_AREAS_AT_ONCE = 24
MOST_TAGS_AT_ONCE = 3000


class Secrecy(Enum):
    """How a print is to be kept: the line at its foot."""

    OPEN = gettext_lazy("Local codes and licensed practice come first.")
    LOCKED = gettext_lazy("Keep it locked away. Local codes and licensed practice come first.")
    BITTINGS = gettext_lazy(
        "SECRET: hand over in person, destroy after use. Local codes and licensed practice come first."
    )


@dataclass(frozen=True)
class Head:
    """``kind`` is what it is, ``title`` which one; ``number`` leads from a sheet to who took it."""

    kind: str
    title: str
    made_by: str
    made_at: datetime
    secrecy: Secrecy = Secrecy.OPEN
    site: str = ""
    number: str = ""
    foot: Text = ""

    @property
    def runs(self) -> str:
        """At the head of every page."""
        return ": ".join(filter(None, (self.site, f"{self.kind}, {self.title}")))

    @property
    def when(self) -> str:
        return moment(self.made_at)

    @property
    def keeping(self) -> str:
        return str(self.foot or self.secrecy.value)

    @property
    def mark(self) -> str:
        """Across every page of what holds bittings."""
        if self.secrecy != Secrecy.BITTINGS:
            return ""
        return ", ".join(filter(None, (self.made_by, self.when, self.number)))

    @property
    def is_secret(self) -> bool:
        return self.secrecy == Secrecy.BITTINGS


def new_number() -> str:
    """For a print that has no number of its own; history keeps it."""
    return grouped(new_tag())


def now() -> datetime:
    return timezone.localtime()


@dataclass(frozen=True)
class Composed:
    """A print with all that stands on it, not set yet."""

    html: str
    areas: tuple[Area, ...]
    mark: str

    @property
    def is_large(self) -> bool:
        """Whether somebody would wait for it noticeably longer than for a page."""
        return len(self.areas) > MOST_AREAS_AT_ONCE or self.html.count("<") > MOST_TAGS_AT_ONCE

    def pdf(self, told: Callable[[int], None] | None = None) -> bytes:
        """``told`` hears how many of the areas are set, and may raise to stop."""
        return render_pdf(self.html, finisher=filled(self.areas, self.mark, told))


def compose(
    template: str,
    head: Head,
    *,
    areas: Mapping[str, Sequence[Area]] | None = None,
    shape: Shape = Shape.UPRIGHT,
    **context: Any,
) -> Composed:
    """A template that extends the frame.

    ``areas`` are set by ourselves, in the places that the template leaves for each of their names.
    """
    flat = tuple(area for part in (areas or {}).values() for area in part)
    context |= {"head": head, "shape": shape, "areas": _places(areas or {})}
    return Composed(render_to_string(template, context), flat, head.mark)


def set_print(template: str, head: Head, *, told: Callable[[int], None] | None = None, **facts: Any) -> bytes:
    """The PDF of what ``compose`` makes of the same."""
    return compose(template, head, **facts).pdf(told)


def _places(areas: Mapping[str, Sequence[Area]]) -> dict[str, list[tuple[int, Area, list[Stray]]]]:
    number = count()
    return {name: [(next(number), area, strays_of(area)) for area in part] for name, part in areas.items()}
