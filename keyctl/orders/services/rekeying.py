"""Rekey an area: free cores are keyed to the new keys, pinned, and swapped into the doors of the area.

As many doors as there are free cores; more than that is dealt out in waves (``keyctl.rotations``), where the
cores that come out of one wave go into the next.
"""

from collections.abc import Iterable, Mapping, Sequence
from datetime import date

from django.db import transaction
from django.utils.translation import gettext as _

from keyctl import engine
from keyctl.accounts.models import User
from keyctl.cores.models import Core
from keyctl.cores.services import locked_cores, rekey_cores
from keyctl.keys.models import Cabinet
from keyctl.lib.errors import Refused
from keyctl.orders.models import WorkOrder
from keyctl.orders.selectors import cores_to_rekey
from keyctl.orders.services.areas import write_area, write_part
from keyctl.orders.services.cutting import why_not_into, why_not_to_cut
from keyctl.orders.services.opening import lock_listed_housings, refuse_unless_ready, why_not_to_swap
from keyctl.orders.services.writing import write_cut_order
from keyctl.places.access import require_role
from keyctl.places.models import Housing, Site
from keyctl.places.roles import Role
from keyctl.systems.models import KeySymbol, KeySystem


@transaction.atomic
def open_area_order(
    *,
    actor: User,
    site: Site,
    title: str,
    housings: Iterable[Housing],
    symbols: Sequence[KeySymbol],
    copies: Mapping[KeySymbol, int] | None = None,
    cabinet: Cabinet | None = None,
    due_on: date | None = None,
) -> WorkOrder:
    """Every core of the area is keyed to ``symbols``; ``copies`` of them are cut into the cabinet."""
    require_role(actor, site, Role.LOCKSMITH)
    system = _system_of(symbols, site)
    locked = lock_listed_housings(housings)
    refuse_unless_ready(len(locked), "door", [_why_not(housing, site, system) for housing in locked])
    _refuse_copies(copies or {}, cabinet, site)
    pairs = dict(zip(locked, _free_cores(actor, site, system, len(locked)), strict=True))
    rekey_cores(actor=actor, site=site, system=system, keyings={core.pk: symbols for core in pairs.values()})
    area = write_area(actor=actor, site=site, title=title, due_on=due_on)
    write_part(actor=actor, area=area, title=title, pairs=pairs, due_on=due_on)
    if copies and cabinet:
        write_cut_order(
            actor=actor,
            site=site,
            title=title,
            counts=list(copies.items()),
            cabinet=cabinet,
            due_on=due_on,
            part_of=area,
        )
    return area


def _system_of(symbols: Sequence[KeySymbol], site: Site) -> KeySystem:
    systems = {symbol.system for symbol in symbols}
    if not systems:
        raise Refused(_("Choose the keys that shall turn the doors of this area."))
    if len(systems) > 1:
        raise Refused(_("These keys belong to several systems. A core is keyed to keys of one."))
    system = systems.pop()
    if not system.sites.filter(pk=site.pk).exists():
        raise Refused(
            _("{system} is not used at {site}. Choose keys of a system that is.").format(
                system=system, site=site
            )
        )
    return system


def _why_not(housing: Housing, site: Site, system: KeySystem) -> str | None:
    construction = engine.load_format(system.format_id).construction
    if housing.construction != construction:
        return _("{housing} takes {construction} cores, and the keys are for {construction_2} ones.").format(
            housing=housing, construction=housing.construction, construction_2=construction
        )
    return why_not_to_swap(housing, site)


def _refuse_copies(copies: Mapping[KeySymbol, int], cabinet: Cabinet | None, site: Site) -> None:
    if not copies:
        return
    if cabinet is None:
        raise Refused(_("Choose the cabinet that the copies go into."))
    systems = set(site.key_systems.values_list("pk", flat=True))
    reasons = [why_not_to_cut(symbol, count, site, systems) for symbol, count in copies.items()]
    refuse_unless_ready(len(copies), "key", [*reasons, why_not_into(cabinet, site)])


def _free_cores(actor: User, site: Site, system: KeySystem, wanted: int) -> list[Core]:
    """Free cores of the format, empty ones first; held until the orders are written."""
    found = list(cores_to_rekey(site, system, actor)[:wanted])
    if len(found) < wanted:
        raise Refused(
            _(
                "The area has {wanted} doors, and {found} cores of this format are free at {site}. Register "
                "more cores, choose fewer doors, or plan it in waves."
            ).format(wanted=wanted, found=len(found), site=site)
        )
    held = locked_cores([core.pk for core in found])
    return [held[core.pk] for core in found]
