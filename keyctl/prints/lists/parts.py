"""What a print is about: a whole site or one of its buildings, as its reader may see it."""

from dataclasses import dataclass
from uuid import UUID

from django.db.models import Q, QuerySet

from keyctl.accounts.models import User
from keyctl.cores.chart import Part, building_part
from keyctl.keys.access import visible_copies
from keyctl.keys.models import KeyCopy
from keyctl.orders.access import visible_orders
from keyctl.orders.models import WorkOrder
from keyctl.places.access import visible_doors
from keyctl.places.models import Building, Door, Site


@dataclass(frozen=True)
class Place:
    actor: User
    site: Site
    building: Building | None

    def __str__(self) -> str:
        return f"{self.building.code} {self.building.name}" if self.building else self.site.name

    @property
    def buildings(self) -> QuerySet[Building]:
        found = self.site.buildings.order_by("code")
        return found.filter(pk=self.building.pk) if self.building else found

    @property
    def doors(self) -> QuerySet[Door]:
        doors = visible_doors(self.actor).filter(floor__building__in=self.buildings)
        return doors.select_related("floor__building__site").order_by(
            "floor__building__code", "floor__level", "number"
        )

    def charts(self) -> list[tuple[Building, Part]]:
        """The cores in the doors of each building, and the keys that mean something to them."""
        return [(building, building_part(self.actor, building, None)) for building in self.buildings]

    def key_ids(self) -> set[UUID]:
        return {pk for _, part in self.charts() for pk in part.keys.values_list("pk", flat=True)}

    def copies(self, keys: set[UUID]) -> QuerySet[KeyCopy]:
        """Of the keys, at this site; nothing for whoever may not read who holds which."""
        copies = visible_copies(self.actor).filter(site=self.site, symbol__in=keys)
        kept = copies.exclude(state=KeyCopy.State.DESTROYED)
        return kept.order_by("symbol__system__code", "symbol__symbol", "serial")

    def open_orders(self) -> QuerySet[WorkOrder]:
        """All that the site has, or those that work on a door or a core of the building."""
        orders = visible_orders(self.actor).filter(site=self.site, state__in=WorkOrder.UNFINISHED)
        if self.building:
            here = self.building
            orders = orders.filter(
                Q(lines__housing__door__floor__building=here)
                | Q(lines__door__floor__building=here)
                | Q(lines__core__housing__door__floor__building=here)
            ).distinct()
        return orders.order_by("number")
