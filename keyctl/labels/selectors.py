"""What labels can be printed for, in the order in which somebody sticks them on."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from uuid import UUID

from django.db.models import QuerySet
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from keyctl.cores.models import Core
from keyctl.lib.language import Text
from keyctl.places.models import Door, Site


@dataclass(frozen=True)
class Wanted:
    """One label: the code, the word for what carries it, and a line for whoever sticks it on, or none."""

    tag: str
    noun: str
    words: str = ""


@dataclass(frozen=True)
class Choice:
    """A set of things that get labels. ``part`` names an order or a building where the choice needs one."""

    name: str
    label: Text
    things: Callable[[Site, UUID | None], list[Wanted]]


def doors_of(site: Site, building: UUID | None) -> list[Wanted]:
    """The number of a door stands on the door anyhow; its label may name it."""
    doors = Door.objects.filter(floor__building__site=site, floor__building=building).with_places()
    return [Wanted(door.tag, _("Door"), str(door)) for door in doors]


def cores_of_order(site: Site, order: UUID | None) -> list[Wanted]:
    cores = Core.objects.filter(order_lines__order=order, order_lines__order__site=site)
    return _cores(cores.order_by("order_lines__ordinal").distinct())


def free_cores(site: Site, _part: UUID | None) -> list[Wanted]:
    return _cores(Core.objects.filter(site=site, place__in=[Core.Place.SHELF, Core.Place.BENCH]))


def cabinets(site: Site, _part: UUID | None) -> list[Wanted]:
    """Nothing but the code here either; which is whose stands on the cabinet's page."""
    return [Wanted(cabinet.tag, _("Cabinet")) for cabinet in site.cabinets.all()]


def _cores(cores: "QuerySet[Core]") -> list[Wanted]:
    """Nothing but the code: whoever finds a core shall not learn of a door or a key."""
    return [Wanted(tag, _("Core")) for tag in dict.fromkeys(cores.values_list("tag", flat=True))]


CHOICES: Mapping[str, Choice] = {
    choice.name: choice
    for choice in (
        Choice("building", gettext_lazy("All doors of a building"), doors_of),
        Choice("order", gettext_lazy("The cores of a work order"), cores_of_order),
        Choice("free", gettext_lazy("All cores on the shelf and on the bench"), free_cores),
        Choice("cabinets", gettext_lazy("All key cabinets"), cabinets),
    )
}
