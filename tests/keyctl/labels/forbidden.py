"""What no grid of labels may be, for the test that asks the database itself."""

from collections.abc import Callable
from decimal import Decimal
from typing import Any

from keyctl.keys.models import Cabinet
from keyctl.labels.models import LabelGrid
from tests import factories
from tests.cast import Cast
from tests.scenes.labels import GRID


def a_grid(cast: Cast, **facts: Any) -> None:
    LabelGrid.objects.create(site=cast.north, **{**GRID, **facts})


def two_grids_of_one_name(cast: Cast) -> None:
    a_grid(cast)
    a_grid(cast)


def two_doors_of_one_tag(cast: Cast) -> None:
    for _ in range(2):
        factories.make_door(cast.north, tag="BCDF")


def two_cabinets_of_one_tag(cast: Cast) -> None:
    for _ in range(2):
        Cabinet.objects.filter(pk=factories.make_cabinet(cast.north).pk).update(tag="BCDF")


FORBIDDEN: dict[str, Callable[[Cast], object]] = {
    "label_grid_is_named_once_at_its_site": two_grids_of_one_name,
    "label_grid_has_labels_that_hold_a_code": lambda cast: a_grid(cast, width=Decimal(14)),
    "label_grid_has_no_label_upon_another": lambda cast: a_grid(cast, step_y=Decimal(30)),
    "door_tag_is_unique": two_doors_of_one_tag,
    "cabinet_tag_is_unique": two_cabinets_of_one_tag,
}
