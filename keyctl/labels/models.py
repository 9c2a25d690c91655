"""The grids of sheets of labels, measured once and used for every print."""

from decimal import Decimal
from typing import Any

from django.db import models
from django.db.models import F, Q
from django.utils.translation import gettext_lazy

from keyctl.lib.records import Record
from keyctl.places.models import Site

# Width and height in mm.
PAPERS = {"a4": (Decimal(210), Decimal(297)), "letter": (Decimal("215.9"), Decimal("279.4"))}
# A code of 12 mm with its quiet zone, and a line of text beside or below it.
SMALLEST = Decimal(15)
MOST_SHIFT = Decimal(10)


# What is measured, in mm: its name for people, the least and the most.
MEASURES = {
    "width": (gettext_lazy("Width of a label"), SMALLEST, Decimal(210)),
    "height": (gettext_lazy("Height of a label"), SMALLEST, Decimal(297)),
    "left": (gettext_lazy("First label from the left edge"), Decimal(0), Decimal(100)),
    "top": (gettext_lazy("First label from the upper edge"), Decimal(0), Decimal(100)),
    "step_x": (gettext_lazy("From a left edge to the next"), SMALLEST, Decimal(216)),
    "step_y": (gettext_lazy("From an upper edge to the next"), SMALLEST, Decimal(297)),
    "shift_x": (gettext_lazy("Shift to the right"), -MOST_SHIFT, MOST_SHIFT),
    "shift_y": (gettext_lazy("Shift downwards"), -MOST_SHIFT, MOST_SHIFT),
}


def millimetres(**facts: Any) -> "models.DecimalField[Decimal, Decimal]":
    return models.DecimalField(max_digits=5, decimal_places=2, **facts)


class LabelGrid(Record):
    """How the labels lie on a sheet, in millimetres from its upper left corner."""

    class Paper(models.TextChoices):
        A4 = "a4", "A4, 210 x 297 mm"
        LETTER = "letter", gettext_lazy("Letter, 215.9 x 279.4 mm")

    site = models.ForeignKey(Site, on_delete=models.CASCADE, related_name="label_grids")
    name = models.CharField(max_length=60)
    paper = models.CharField(max_length=8, choices=Paper, default=Paper.A4)
    columns = models.PositiveSmallIntegerField()
    rows = models.PositiveSmallIntegerField()
    width = millimetres()
    height = millimetres()
    left = millimetres()
    top = millimetres()
    step_x = millimetres()
    step_y = millimetres()
    # What this printer is off by.
    shift_x = millimetres(default=Decimal(0))
    shift_y = millimetres(default=Decimal(0))

    class Meta:
        ordering = ["site__code", "name"]
        constraints = [
            models.UniqueConstraint(fields=["site", "name"], name="label_grid_is_named_once_at_its_site"),
            models.CheckConstraint(
                condition=Q(columns__gte=1, rows__gte=1, width__gte=SMALLEST, height__gte=SMALLEST),
                name="label_grid_has_labels_that_hold_a_code",
            ),
            models.CheckConstraint(
                condition=Q(step_x__gte=F("width"), step_y__gte=F("height")),
                name="label_grid_has_no_label_upon_another",
            ),
        ]

    def __str__(self) -> str:
        return self.name

    @property
    def per_sheet(self) -> int:
        return self.columns * self.rows
