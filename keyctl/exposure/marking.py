"""Counts of incidental keys, each with its mark: whether cores or keys have changed since it was made.

What is there now is asked by scope and not by count: a large estate has hundreds of keyways.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime
from uuid import UUID

from django.db.models import Count, Max, Q

from keyctl.cores.models import Core
from keyctl.exposure.models import IncidentalCount
from keyctl.formats.keyways import blanks_by_keyway
from keyctl.places.models import Site
from keyctl.systems.models import KeySymbol, KeySystem

# A core format and a keyway.
Family = tuple[str, str]
# A site, or a key system, or neither: the whole estate.
Scope = tuple[UUID | None, UUID | None]
# How many pinned cores, and when the last of them was pinned.
Pinned = tuple[int, datetime | None]
NONE_PINNED: Pinned = (0, None)


@dataclass(frozen=True)
class ScopeCount:
    """One count with its mark."""

    count: IncidentalCount
    is_stale: bool


def marked(counts: Iterable[IncidentalCount]) -> list[ScopeCount]:
    listed = list(counts)
    pinned = {scope: _pinned(scope) for scope in {_scope(count) for count in listed}}
    keys = _keys_by_family({_family(count) for count in listed})
    return [
        ScopeCount(count, _has_changed(count, pinned[_scope(count)], keys[_family(count)]))
        for count in listed
    ]


def _has_changed(count: IncidentalCount, pinned: dict[Family, Pinned], keys: int) -> bool:
    now = pinned.get(_family(count), NONE_PINNED)
    return (*now, keys) != (count.cores, count.pinned_until, count.keys)


def _family(count: IncidentalCount) -> Family:
    return count.format_id, count.keyway


def _scope(count: IncidentalCount) -> Scope:
    return count.site_id, count.system_id


def cores_at(site: Site | UUID | None, system: KeySystem | UUID | None, core: str = "") -> Q:
    """What holds of a pinned core in use, there or anywhere; with ``core``, of what leads to one."""
    held = Q((f"{core}pinning__isnull", False)) & ~Q((f"{core}place", Core.Place.GONE))
    for name, wanted in (("site", site), ("system", system)):
        if wanted:
            held &= Q((f"{core}{name}", wanted))
    return held


def _pinned(scope: Scope) -> dict[Family, Pinned]:
    site, system = scope
    cores = Core.objects.filter(cores_at(site, system))
    rows = cores.order_by().values_list("format_id", "system__keyway")
    return {
        (format_id, keyway): (number, until)
        for format_id, keyway, number, until in rows.annotate(Count("pk"), Max("pinned_at"))
    }


def _keys_by_family(families: set[Family]) -> dict[Family, int]:
    """The keys that enter the cores of each: those of its own keyway, and of the blanks that fit."""
    blanks = blanks_by_keyway({keyway for _format, keyway in families})
    wanted = {blank for fitting in blanks.values() for blank in fitting}
    rows = KeySymbol.objects.filter(system__keyway__in=wanted).order_by()
    counted = rows.values_list("system__format_id", "system__keyway").annotate(Count("pk"))
    found = {(format_id, blank): number for format_id, blank, number in counted}
    return {
        (format_id, keyway): sum(found.get((format_id, blank), 0) for blank in blanks[keyway])
        for format_id, keyway in families
    }
