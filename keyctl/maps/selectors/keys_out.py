"""The doors whose cores so many key copies turn that are with holders."""

from typing import Any

from django.db.models import Count, Exists, OuterRef, QuerySet, Subquery, Sum

from keyctl.cores.models import Core, Turn
from keyctl.keys.models import KeyCopy
from keyctl.maps.selectors.parts import Part, past_the_index
from keyctl.places.models import Site

# The way from a turn to its door.
DOOR = "core__housing__door"
# More than so many, by the code of the state.
BANDS = (("4", 64), ("3", 16), ("2", 4), ("1", 0))


def doors_over(part: Part, bound: int) -> QuerySet[Any]:
    """Grouped by door; copies are counted key by key, so that no database pairs all copies with all cores."""
    once = part.turns.filter(~Exists(_in_another_core())).annotate(copies=Subquery(_out(part.site)))
    doors: QuerySet[Any] = once.values(DOOR).annotate(out=Sum("copies")).filter(out__gt=bound)
    return doors


def _out(site: Site) -> QuerySet[Any]:
    """By the site's own register: that of another site is for its readers.

    Hidden from the index of copies by site, by which SQLite without figures would read them all for each key.
    """
    copies = KeyCopy.objects.filter(symbol=OuterRef("symbol"), custody__isnull=False)
    held = past_the_index(copies, "site_id", site).order_by()
    out: QuerySet[Any] = held.values("symbol").annotate(number=Count("pk")).values("number")
    return out


def _in_another_core() -> QuerySet[Core]:
    """A copy counts once, however many cores of the door it turns. Door by door: a top key turns them all."""
    beside = Core.objects.filter(housing__door=OuterRef(DOOR), pk__lt=OuterRef("core")).order_by()
    same = Turn.objects.filter(core=OuterRef("pk"), symbol=OuterRef(OuterRef("symbol")), operates=True)
    return beside.filter(Exists(same.order_by()))
