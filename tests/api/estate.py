"""One of everything at a site: what the API can answer about."""

from dataclasses import dataclass

from keyctl.accounts.models import User
from keyctl.cores.models import Core
from keyctl.orders.models import OrderLine, WorkOrder
from keyctl.places.models import Door, Housing, Site
from keyctl.systems.models import KeySystem
from tests.factories import install, make_core, make_door, make_housing, make_system


@dataclass(frozen=True)
class Estate:
    site: Site
    door: Door
    housing: Housing
    system: KeySystem
    core: Core
    spare: Core
    order: WorkOrder


def build(site: Site, locksmith: User) -> Estate:
    door = make_door(site, number="E-1.04", name="Plant room", is_egress=True)
    housing = make_housing(door=door, label="Upper")
    system = make_system(site, actor=locksmith)
    core = install(make_core(actor=locksmith, site=site, system=system), housing)
    spare = make_core(actor=locksmith, site=site, system=system)
    return Estate(site, door, housing, system, core, spare, make_swap(site, housing, locksmith, core=spare))


def make_swap(site: Site, housing: Housing, locksmith: User, *, core: Core | None = None) -> WorkOrder:
    """An order with one line, as if a locksmith had opened it."""
    number = WorkOrder.objects.count() + 1
    order = WorkOrder.objects.create(
        number=number, site=site, kind=WorkOrder.Kind.SWAP, title=f"Swap {number}", opened_by=locksmith
    )
    OrderLine.objects.create(order=order, ordinal=1, housing=housing, core=core)
    return order
