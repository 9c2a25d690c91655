"""Taking a place for a change: its row is held, so that two who write below it come one after the other."""

from typing import TypeVar

from django.http import Http404
from django.shortcuts import get_object_or_404

from keyctl.lib.records import Record
from keyctl.places.models import Building, Door, Floor, Housing, Space

Place = TypeVar("Place", bound=Record)

# The way from each kind of place to its site.
ABOVE: dict[type[Record], str] = {
    Building: "site",
    Floor: "building__site",
    Space: "floor__building__site",
    Door: "floor__building__site",
    Housing: "door__floor__building__site",
}


def hold(place: Record) -> None:
    """Until the transaction ends nobody else writes below this place, changes it or removes it."""
    rows = type(place)._default_manager.select_for_update().filter(pk=place.pk)
    if not rows.values_list("pk"):
        raise Http404


def held(place: Place) -> Place:
    """The same; and the place as it is now, with the places it is in.

    Read after the lock: in one query PostgreSQL gives whoever had to wait what was joined before the wait.
    """
    hold(place)
    kind = type(place)
    return get_object_or_404(kind._default_manager.select_related(ABOVE[kind]), pk=place.pk)
