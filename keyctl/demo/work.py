"""Orders and requests of the invented estate, made by the services that people use."""

from random import Random

from keyctl.accounts.models import User
from keyctl.approvals.services import ask_for_key
from keyctl.cores.models import Core
from keyctl.demo import names
from keyctl.demo.plan import FRESH_CORES
from keyctl.keys.models import Holder
from keyctl.orders.models import WorkOrder
from keyctl.orders.services import open_pin_order, open_swap_order, pin_line
from keyctl.places.models import Building, Door, Housing, Site
from keyctl.places.roles import Role

DOORS_TO_SWAP = 5


def build_work(people: dict[Role, User], rng: Random) -> WorkOrder:
    """Open and finished orders, and requests that wait; returns the pin order whose sheet is printed."""
    locksmith = people[Role.LOCKSMITH]
    pinned = _pin_order(locksmith, "Spares for the autumn")
    for line in pinned.lines.order_by("ordinal"):
        pin_line(actor=locksmith, line=line)
    _pin_order(locksmith, "Spares for the winter")
    _swap_order(locksmith, rng)
    for reason in names.REASONS:
        _ask(people[Role.REQUESTER], reason, rng)
    return pinned


def pinned_order() -> WorkOrder:
    """Whose sheet is printed: the first that was finished."""
    return WorkOrder.objects.filter(kind=WorkOrder.Kind.PIN, state=WorkOrder.State.DONE).order_by("number")[0]


def _pin_order(locksmith: User, title: str) -> WorkOrder:
    waiting = Core.objects.filter(place=Core.Place.BENCH, pinning__isnull=True, order_lines__isnull=True)
    site = Site.objects.filter(cores__in=waiting).order_by("code")[0]
    cores = waiting.filter(site=site).order_by("tag")[: FRESH_CORES // 2]
    return open_pin_order(actor=locksmith, site=site, title=title, cores=cores)


def _swap_order(locksmith: User, rng: Random) -> WorkOrder:
    building = Building.objects.order_by("site__code", "code")[0]
    housings = list(Housing.objects.filter(door__floor__building=building, construction="small-format"))
    chosen = rng.sample(sorted(housings, key=str), DOORS_TO_SWAP)
    return open_swap_order(
        actor=locksmith,
        site=building.site,
        title=f"Cores of {building} after a moved department",
        housings=chosen,
    )


def _ask(requester: User, reason: str, rng: Random) -> None:
    holder = rng.choice(list(Holder.objects.filter(user=requester).order_by("site__code")))
    building = rng.choice(list(Building.objects.filter(site=holder.site).order_by("code")))
    doors = Door.objects.filter(floor__building=building, housings__construction="small-format")
    chosen = rng.sample(list(doors.order_by("number")), rng.choice([1, 2, 3]))
    ask_for_key(actor=requester, holder=holder, doors=chosen, reason=reason, needed_until=None)
