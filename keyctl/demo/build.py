"""Building the invented estate: its parts in their order, and what is told of the whole."""

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from functools import partial

from django.db import connection, transaction

from keyctl.accounts.models import User
from keyctl.audit.models import Event
from keyctl.audit.services import record
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
    tried,
    work,
)
from keyctl.demo.parts import Part, Progress, Say, carry_out, kept_parts
from keyctl.demo.plan import Build, EstatePlan, plan_estate
from keyctl.feed.services import unwatched
from keyctl.keys.models import Holder, KeyCopy
from keyctl.lib.errors import Refused
from keyctl.lib.planner import look_anew
from keyctl.places.models import Building, Door, Site
from keyctl.places.roles import Role
from keyctl.proofs.models import Proof as StoredProof

BEGUN, BUILT = "demo.begun", "demo.built"
ROOM_IN_KIB = 512 * 1024
# About how many milliseconds each takes for a door, or for a key.
PLACES, CORES, KEYS, PROVING, ASSESSING, SEARCH = 0.2, 2.0, 3.0, 0.8, 1.5, 0.5


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
    """The figures the estate in this database is built from; None for an empty database.

    A database that holds somebody's real estate is never built into.
    """
    event = Event.objects.filter(verb__in=[BEGUN, BUILT]).order_by("pk").first()
    if event is not None:
        return dict(event.detail)
    if Site.objects.exists():
        raise Refused(
            "This database holds an estate of your own, and the invented one does not mix with it. "
            "Set KEYCTL_DATA_DIR to another folder and run demo again."
        )
    return None


@transaction.atomic
def begin(plan: EstatePlan) -> None:
    administrator = people.make_people()[Role.ADMINISTRATOR]
    keys.own_person()
    record(
        actor=administrator,
        verb=BEGUN,
        sentence=f"began an invented estate of {plan.doors} doors",
        detail=_figures(plan),
    )


def is_built() -> bool:
    return Event.objects.filter(verb=BUILT).exists()


def build_estate(say: Say) -> None:
    """What is missing of it. While most rows are written no change is listed; then all are, once."""
    begun = Event.objects.filter(verb=BEGUN).order_by("pk")[0]
    build = Build(plan_estate(**begun.detail), begun.at)
    _take_room()
    bulk, lived = list(bulk_of(build)), list(life_of(build))
    done = kept_parts()
    progress = Progress(say, [*bulk, *lived], done)
    if not done.issuperset(part.name for part in bulk):
        with unwatched(connection):
            carry_out(bulk, progress, done)
    carry_out(lived, progress, done)
    _mark(build.plan)


def _take_room() -> None:
    """SQLite keeps two megabytes of pages; identifiers are random, so indexes touch more of them."""
    if connection.vendor == "sqlite":
        with connection.cursor() as cursor:
            cursor.execute(f"PRAGMA cache_size=-{ROOM_IN_KIB}")


def bulk_of(build: Build) -> Iterator[Part]:
    """Nearly all rows: sites, systems with their cores, keys with their register."""
    plan = build.plan
    for number in range(plan.sites):
        make = partial(places.build_site, build, number)
        yield Part("building sites", f"site {number + 1}", PLACES * plan.doors_at(number), make)
    for nth, system in enumerate(plan.systems):
        make = partial(cores.build_cores, build, nth)
        yield Part("designing key systems and pinning their cores", system.code, CORES * system.doors, make)
    for number in range(plan.sites):
        make = partial(keys.build_keys, build, number)
        weight = KEYS * plan.copies_at(number)
        yield Part("cutting keys and writing two years at the desks", f"keys {number + 1}", weight, make)


def life_of(build: Build) -> Iterator[Part]:
    """As people work with it, by the services that they use; each is a matter of seconds."""
    yield _of_life("questions made quick", lambda _persons: look_anew())
    yield _of_life("stock", lambda persons: stock.build_stock(persons[Role.LOCKSMITH], build.chance("stock")))
    yield _of_life("counts", counts.build_counts)
    yield _of_life("losses", losses.build_losses)
    yield _of_life("orders", lambda persons: _orders(build, persons))
    yield _of_life("looks", looks.build_looks)
    yield tried.proof(PROVING * build.plan.doors)
    yield _of_life("losses looked at", lambda _persons: losses.look_again())
    yield _of_life("requests", requests.build_requests)
    yield _of_life("leavers", leavers.build_leavers)
    yield _of_life("desk", desk.build_desk)
    yield _of_life("rotation", rotations.build_rotation)
    yield _of_life("field", field.build_field)
    for number in range(build.plan.sites):
        yield tried.assessment(number, ASSESSING * build.plan.doors_at(number))
    yield tried.search(SEARCH * build.plan.doors)
    yield _of_life("questions made quick again", lambda _persons: look_anew())


def _of_life(name: str, make: Callable[[dict[Role, User]], object]) -> Part:
    return Part("adding orders, requests and counts", name, 500, lambda: make(people.made_people()))


def _orders(build: Build, persons: dict[Role, User]) -> None:
    pinned = work.build_work(persons, build.chance("orders"))
    orders.build_orders(persons, pinned)


def _mark(plan: EstatePlan) -> None:
    record(
        actor=people.made_people()[Role.ADMINISTRATOR],
        verb=BUILT,
        sentence=f"built an invented estate of {plan.doors} doors",
        detail=_figures(plan),
    )


def _figures(plan: EstatePlan) -> dict[str, int]:
    return {"doors": plan.doors, "seed": plan.seed}


def last_proof() -> Proof:
    """The last of the whole estate as the command tells it; the page has it with causes."""
    stored = StoredProof.objects.filter(site=None, system=None, finished_at__isnull=False).latest(
        "finished_at"
    )
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
