"""What an earlier file named and this one does not. It is told, and stays until people take it away."""

from uuid import UUID

from django.utils.translation import gettext as _

from keyctl.imports.buildings.places import Found, Ground
from keyctl.imports.kinds import Fault
from keyctl.places.models import Identifier


def places_gone(ground: Ground, kind: str, met: set[UUID]) -> Found:
    """Doors or spaces of the building."""
    ways = {"site": ground.site, "kind": kind, f"{kind}__floor__building": ground.building}
    rows = Identifier.objects.filter(**ways).order_by(f"{kind}__number", "pk")
    told: set[UUID] = set()
    for place, number, value in rows.values_list(f"{kind}_id", f"{kind}__number", "value").iterator():
        if place not in met and place not in told:
            told.add(place)
            message = _(
                "The {kind} {number} ({value}) is on record and not in this file. It stays as it is."
            ).format(kind=kind, number=number, value=value)
            yield Fault(message, sheet=ground.sheets[kind], is_error=False)
