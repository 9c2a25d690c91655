"""What of a system waits for cores: change keys that have none, and cores without pins."""

from django.db.models import Exists, OuterRef, Q, QuerySet

from keyctl import engine
from keyctl.cores.models import Core, Keying
from keyctl.places.models import Site
from keyctl.systems.models import KeySymbol, KeySystem

# Where a core is in hand; one in a housing comes out by a swap first.
IN_HAND = (Core.Place.BENCH, Core.Place.SHELF, Core.Place.CASE)


def keys_without_core(system: KeySystem, below: KeySymbol | None = None) -> QuerySet[KeySymbol]:
    """The change keys of a system, or those below one master, that no core is keyed to, page by page."""
    has_core = Keying.objects.filter(symbol=OuterRef("pk")).exclude(core__place=Core.Place.GONE)
    keys = KeySymbol.objects.filter(
        ~Exists(has_core), system=system, kind=KeySymbol.Kind.CHANGE, retired_at__isnull=True
    )
    if below is not None:
        keys = keys.filter(_below(below))
    return keys.order_by(*_page_by_page(), "symbol")


def waiting_cores(system: KeySystem, sites: "QuerySet[Site]") -> QuerySet[Core]:
    """The cores of a system that are in hand at these sites, undisputed, and have no pins yet."""
    return Core.objects.filter(
        site__in=sites, system=system, place__in=IN_HAND, disputed_at__isnull=True, pinning__isnull=True
    ).order_by("tag")


def _below(master: KeySymbol) -> Q:
    found = Q()
    for steps in range(1, engine.MOST_LEVELS):
        found |= Q(**{"__".join(["parent"] * steps): master})
    return found


def _page_by_page() -> list[str]:
    """Keys under one master come together, in the order of their numbers."""
    return ["__".join(["parent"] * steps + ["ordinal"]) for steps in range(engine.MOST_LEVELS - 1, -1, -1)]
