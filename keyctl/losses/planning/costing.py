"""What a way costs: pins, copies, blanks, visits, hours and money, by the rates of each site."""

from collections import Counter
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from math import ceil
from uuid import UUID

from keyctl import engine
from keyctl.keys.models import KeyCopy
from keyctl.losses.models import LossCase, WorkRates
from keyctl.losses.planning.ground import Ground
from keyctl.losses.planning.new_part import IN_USE
from keyctl.losses.planning.scope import Place
from keyctl.losses.planning.ways import Way
from keyctl.places.models import Site
from keyctl.stock.demand import Demand
from keyctl.stock.families import family_id
from keyctl.stock.selectors import Need, needs_at

MINUTES_AN_HOUR = 60
SHOWN_HOLDERS = 200

PinKey = tuple[str, str, int]


@dataclass
class Copies:
    """Copies in use of one key: how many to cut at each site, and with whom they are."""

    by_site: Counter[UUID] = field(default_factory=Counter)
    holders: Counter[UUID] = field(default_factory=Counter)
    called_back: int = 0


@dataclass
class Pins:
    """What comes from the bins, by site."""

    by_site: dict[UUID, Counter[PinKey]] = field(default_factory=dict)
    needs: list[Need] = field(default_factory=list)

    @property
    def total(self) -> int:
        return sum(pins.total() for pins in self.by_site.values())

    @property
    def by_role(self) -> Counter[str]:
        found: Counter[str] = Counter()
        for pins in self.by_site.values():
            for (_, role, _), count in pins.items():
                found[role] += count
        return found


@dataclass(frozen=True)
class Cost:
    """Minutes of work, and money in the smallest unit of the currency."""

    minutes: int
    money: int
    visits: int
    at_once: int
    currency: str


def rates_of(site: Site) -> WorkRates:
    """The site's own, or figures to begin with, which every shop adapts."""
    return WorkRates.objects.filter(site=site).first() or WorkRates(site=site)


def pins_of_way(ground: Ground, way: Way) -> Pins:
    """Old against new, position by position: what stays in a chamber is not counted."""
    found: dict[UUID, Counter[PinKey]] = {}
    for core, pins in way.pins.items():
        place = way.scope.places[core]
        family = family_id(pins.format)
        added = engine.pins_to_add(ground.pins(place.system, core), pins)
        at_site = found.setdefault(place.site, Counter())
        at_site.update({(family, role, size): count for (role, size), count in added.items()})
    sites = Site.objects.in_bulk(list(found))
    needs = [need for site, pins in found.items() for need in needs_at(sites[site], Demand(pins))]
    return Pins(found, needs)


def copies_of_way(case: LossCase, way: Way) -> dict[UUID, Copies]:
    """By key that is replaced or retired, its copies in use. Who lost one gets a new one too."""
    wanted = {key.replaces for key in way.coming} | way.retired
    found: dict[UUID, Copies] = {}
    systems = {place.system for place in way.scope.places.values()}
    rows = KeyCopy.objects.filter(symbol__system__in=systems, state__in=IN_USE)
    for symbol, site, holder in rows.values_list("symbol", "site", "holder"):
        if symbol in wanted:
            copies = found.setdefault(symbol, Copies())
            copies.by_site[site] += 1
            copies.called_back += 1
            if holder is not None:
                copies.holders[holder] += 1
    lost = case.lost_copies.filter(found_at__isnull=True, holder__isnull=False)
    for symbol, site in lost.values_list("symbol", "copy__site"):
        if symbol in wanted:
            found.setdefault(symbol, Copies()).by_site[site] += 1
    return found


def cost_of(way: Way, pins: Pins, copies: Mapping[UUID, Copies]) -> Cost:
    """Each site by its own rates; the currency is that of the first one."""
    keys: Counter[UUID] = Counter()
    for key in way.coming:
        keys += copies[key.replaces].by_site if key.replaces in copies else Counter()
    worked = _by_site(way.scope.places[core] for core in way.keyed)
    sites = Site.objects.in_bulk({*worked, *keys})
    parts = [
        _at_site(rates_of(sites[pk]), worked.get(pk, []), pins.by_site.get(pk, Counter()), keys[pk])
        for pk in sites
    ]
    return Cost(
        minutes=sum(part.minutes for part in parts),
        money=sum(part.money for part in parts),
        visits=sum(part.visits for part in parts),
        at_once=max((part.at_once for part in parts), default=0),
        currency=parts[0].currency if parts else WorkRates().currency,
    )


def _at_site(rates: WorkRates, places: list[Place], pins: Counter[PinKey], keys: int) -> Cost:
    by_building = Counter(place.building for place in places if place.building)
    visits = sum(ceil(count / rates.cores_per_visit) for count in by_building.values())
    minutes = (
        len(places) * rates.minutes_per_core + visits * rates.minutes_per_visit + keys * rates.minutes_per_key
    )
    money = ceil(minutes * rates.money_per_hour / MINUTES_AN_HOUR)
    money += keys * rates.money_per_blank + pins.total() * rates.money_per_pin
    at_once = max((min(count, rates.cores_per_visit) for count in by_building.values()), default=0)
    return Cost(minutes, money, visits, at_once, rates.currency)


def _by_site(places: Iterable[Place]) -> dict[UUID, list[Place]]:
    found: dict[UUID, list[Place]] = {}
    for place in places:
        found.setdefault(place.site, []).append(place)
    return found
