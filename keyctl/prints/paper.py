"""The paper of all prints: A4 or Letter by a setting (`KEYCTL_PAPER`), upright, wide, or large for charts."""

from dataclasses import dataclass
from enum import StrEnum

from django.conf import settings

POINTS_PER_MM = 72 / 25.4
# Above, right, below, left: the frame of every page stands in them.
MARGINS = (22.0, 16.0, 20.0, 20.0)
SIZES = {"a4": (210.0, 297.0), "letter": (215.9, 279.4)}


class Shape(StrEnum):
    UPRIGHT = "upright"
    WIDE = "wide"
    LARGE = "large"


@dataclass(frozen=True)
class Paper:
    """In millimetres; the body, what the margins leave, in points."""

    shape: Shape
    width: float
    height: float

    @property
    def body_width(self) -> float:
        return (self.width - MARGINS[1] - MARGINS[3]) * POINTS_PER_MM

    @property
    def body_height(self) -> float:
        """A little less: a place that is a hair too high would go to the next page."""
        return (self.height - MARGINS[0] - MARGINS[2]) * POINTS_PER_MM - 2


def paper(shape: Shape = Shape.UPRIGHT) -> Paper:
    """Twice the ordinary sheet is the large one, as sheets are cut."""
    short, long = SIZES[settings.PAPER]
    sides = {Shape.UPRIGHT: (short, long), Shape.WIDE: (long, short), Shape.LARGE: (2 * short, long)}
    return Paper(shape, *sides[shape])


def page_rules() -> str:
    """The sizes for the style sheet: the only place where it learns of them."""
    top, right, bottom, left = MARGINS
    margin = f"margin: {top}mm {right}mm {bottom}mm {left}mm"
    rules = [f"@page {{ size: {_size(Shape.UPRIGHT)}; {margin} }}"]
    rules += [f"@page {shape} {{ size: {_size(shape)} }} .{shape} {{ page: {shape} }}" for shape in Shape]
    return "\n".join(rules)


def _size(shape: Shape) -> str:
    sheet = paper(shape)
    return f"{sheet.width}mm {sheet.height}mm"
