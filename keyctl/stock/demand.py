"""What the work that is still to be done will take out of the bins.

Stock lies below work orders, so whoever knows of such work says so here: each source is asked anew for a
site's demand whenever a page foretells.
"""

from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass, field

from keyctl.places.models import Site

PinKey = tuple[str, str, int]
"""A family's id, a role and a size."""


@dataclass(frozen=True)
class Demand:
    """Pins by what they are, never by the core they go into, and what could not be foretold, in sentences."""

    pins: Counter[PinKey] = field(default_factory=Counter)
    untold: tuple[str, ...] = ()


DemandSource = Callable[[Site], Demand]
_sources: list[DemandSource] = []


def add_demand_source(source: DemandSource) -> None:
    _sources.append(source)


def demand_at(site: Site) -> Demand:
    found = [source(site) for source in _sources]
    pins: Counter[PinKey] = Counter()
    for demand in found:
        pins.update(demand.pins)
    return Demand(pins, tuple(sentence for demand in found for sentence in demand.untold))
