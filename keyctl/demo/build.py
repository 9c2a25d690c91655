"""Building the invented estate in one act, so that a stop in the middle leaves nothing behind."""

from collections.abc import Callable
from dataclasses import dataclass
from random import Random
from time import monotonic

from django.db import transaction

from keyctl.accounts.models import User
from keyctl.audit.models import Event
from keyctl.audit.services import record, record_many
from keyctl.cores.models import Core
from keyctl.cores.proof import Disagreement, Kind, Proof
from keyctl.demo import (
    cores,
    counts,
    desk,
    field,
    keys,
    leavers,
    looks,
    losses,
    orders,
    people,
    places,
    requests,
    rotations,
    stock,
    systems,
    work,
)
from keyctl.demo.plan import EstatePlan
from keyctl.exposure.models import CoreExposure
from keyctl.exposure.services import assess as assess_site
from keyctl.jobs.services import run_job
from keyctl.keys.models import Holder, KeyCopy
from keyctl.lib.errors import Refused
from keyctl.orders.models import WorkOrder
from keyctl.places.models import Building, Door, Site
from keyctl.places.roles import Role
from keyctl.proofs.models import Proof as StoredProof
from keyctl.proofs.services import prove_now

BUILT = "demo.built"
SECONDS_BETWEEN_LINES = 5

Say = Callable[[str], None]


@dataclass(frozen=True)
class Summary:
    sites: int
    buildings: int
    doors: int
    cores: int
    copies: int
    holders: int
    events: int


def existing_plan() -> dict[str, int] | None:
    """The figures the estate in this database was built from; None for an empty database.

    A database that holds somebody's real estate is never built into.
    """
    built = Event.objects.filter(verb=BUILT).first()
    if built is not None:
        return dict(built.detail)
    if Site.objects.exists():
        raise Refused(
            "This database holds an estate of your own, and the invented one does not mix with it. "
            "Set KEYCTL_DATA_DIR to another folder and run demo again."
        )
    return None


@transaction.atomic
def build_estate(plan: EstatePlan, say: Say) -> None:
    rng = Random(plan.seed)
    say(f"building {plan.sites} sites, {len(plan.buildings)} buildings and {plan.doors} doors")
    built = places.build_places(plan, rng)
    persons = people.make_people()
    people.grant_roles(persons, list(Site.objects.all()), list(Building.objects.all()))
    say("designing the key systems")
    keyed = systems.build_systems(built, persons[Role.LOCKSMITH], rng)
    say("pinning the cores")
    pinned = cores.build_cores(keyed, plan.spare_cores, persons[Role.LOCKSMITH], rng)
    say(f"cutting {plan.copies} key copies for {plan.holders} holders")
    cut = keys.build_keys(plan, keyed, persons, rng)
    say("writing two years of history")
    record_many(cores.core_events(pinned, persons[Role.LOCKSMITH]))
    record_many(keys.key_events(cut, persons[Role.KEY_DESK]))
    _mark(plan, persons[Role.ADMINISTRATOR])


def pinned_order() -> WorkOrder | None:
    """The finished order of the invented estate, if its work was added before."""
    return WorkOrder.objects.filter(kind=WorkOrder.Kind.PIN, state=WorkOrder.State.DONE).last()


@transaction.atomic
def add_work(rng: Random) -> WorkOrder:
    """Kits, orders and requests, as people would have made them."""
    persons = persons_of_demo()
    stock.build_stock(persons[Role.LOCKSMITH], rng)
    counts.build_counts(persons)
    losses.build_losses(persons)
    pinned = work.build_work(persons, rng)
    orders.build_orders(persons, pinned)
    looks.build_looks(persons)
    return pinned


def persons_of_demo() -> dict[Role, User]:
    by_name = {
        user.username: user
        for user in User.objects.filter(username__in=[role.value for role in people.ROLES])
    }
    return {role: by_name[role.value] for role in people.ROLES}


def prove(say: Say) -> Proof:
    say("proving the estate: every key against the pins of every core")
    total = Core.objects.filter(pinning__isnull=False).count()
    last = monotonic()

    def watch(done: int) -> None:
        nonlocal last
        if monotonic() - last > SECONDS_BETWEEN_LINES:
            last = monotonic()
            say(f"  {done} of {total} cores tried")

    proof = prove_now(actor=persons_of_demo()[Role.OFFICER], watch=watch)
    losses.look_again()
    requests.build_requests(persons_of_demo())
    leavers.build_leavers(persons_of_demo())
    desk.build_desk(persons_of_demo())
    rotations.build_rotation(persons_of_demo())
    field.build_field(persons_of_demo())
    return _summed_up(proof)


def assess(say: Say) -> None:
    """Every site that was not assessed before, as an officer would have it done."""
    sites = Site.objects.exclude(pk__in=CoreExposure.objects.values("core__site"))
    if sites:
        say("assessing how exposed the cores are")
    for site in sites:
        run_job(assess_site(actor=persons_of_demo()[Role.OFFICER], site=site).pk)


def _summed_up(stored: StoredProof) -> Proof:
    """The proof as the command tells it; the page has it with causes."""
    cores, turning, withdrawing = (stored.count(set(stored.figures), place) for place in range(3))
    found = [
        Disagreement(each.core, each.symbol_id, Kind(each.kind))
        for each in stored.findings.select_related("core")
    ]
    return Proof(cores, stored.keys, cores * stored.keys, turning, withdrawing, found)


def summarise() -> Summary:
    return Summary(
        sites=Site.objects.count(),
        buildings=Building.objects.count(),
        doors=Door.objects.count(),
        cores=Core.objects.count(),
        copies=KeyCopy.objects.count(),
        holders=Holder.objects.count(),
        events=Event.objects.count(),
    )


def _mark(plan: EstatePlan, administrator: User) -> None:
    record(
        actor=administrator,
        verb=BUILT,
        sentence=f"built an invented estate of {plan.doors} doors",
        detail={"doors": plan.doors, "seed": plan.seed},
    )
