"""In which state each door is. A state is a set of doors that the database makes once, not door by door.

The number of queries is the same for a floor and for an estate of 100,000 doors: a grouped count.
"""

from collections import Counter
from collections.abc import Callable, Iterable, Sequence
from typing import Any
from uuid import UUID

from django.db.models import Case, CharField, Count, Exists, F, OuterRef, Q, QuerySet, Value, When

from keyctl.exposure.heat import BOUNDS
from keyctl.interim.models import Interim
from keyctl.losses.models import CaseDoor, LossCase
from keyctl.maps.questions import CORES, EXPOSURE, KEYS, LOSSES, WORK, Question
from keyctl.maps.selectors.keys_out import BANDS, DOOR, doors_over
from keyctl.maps.selectors.parts import Near, Part
from keyctl.orders.models import OrderLine, WorkOrder
from keyctl.places.models import Building, Door, Housing, Site
from keyctl.proofs.models import Finding, Proof
from keyctl.proofs.selectors import accepting

# By state, rows with the way to their door; a door in several states counts for the first.
Sets = Iterable[tuple[str, QuerySet[Any], str]]
IN_HOUSING, AT_DOOR = "housing__door", "door"


def doors_with_state(
    question: Question, site: Site, doors: QuerySet[Door], near: Near | None = None
) -> QuerySet[Any]:
    """The doors, each annotated with the code of its state; all of them are ``near``."""
    part = Part(site, near or {})
    cases = [
        When(pk__in=_doors_of(rows, way, part.near), then=Value(code))
        for code, rows, way in _SETS[question.code](part)
    ]
    state = Case(*cases, default=Value(question.states[-1].code), output_field=CharField())
    return doors.annotate(state=state)


def counts_by_floor(
    question: Question, site: Site, buildings: Sequence[Building]
) -> dict[UUID, Counter[str]]:
    near = {"floor__building__in": [building.pk for building in buildings]}
    doors = Door.objects.filter(**near)
    rows = doors_with_state(question, site, doors, near).order_by().values_list("floor", "state")
    found: dict[UUID, Counter[str]] = {}
    for floor, state, number in rows.annotate(number=Count("pk")):
        found.setdefault(floor, Counter())[state] = number
    return found


def counts_of_site(question: Question, site: Site) -> Counter[str]:
    doors = Door.objects.filter(floor__building__site=site)
    rows = doors_with_state(question, site, doors).order_by().values_list("state")
    return Counter(dict(rows.annotate(number=Count("pk"))))


def governing_proof(site: Site) -> Proof | None:
    """The last finished proof that tried every core of the site."""
    proofs = Proof.objects.filter(finished_at__isnull=False, system__isnull=True)
    return proofs.filter(Q(site=site) | Q(site__isnull=True)).order_by("-finished_at").first()


def _doors_of(rows: QuerySet[Any], way: str, near: Near) -> QuerySet[Any]:
    """Their identifiers."""
    return rows.filter(**{f"{way}__{name}": value for name, value in near.items()}).values(way)


def _of_cores(part: Part) -> Sets:
    cores, pinned = part.cores, part.cores.filter(pinned_at__isnull=False)
    temporary = Interim.objects.standing().filter(site=part.site).order_by()
    empty = Housing.objects.filter(door__floor__building__site=part.site, cores__isnull=True).order_by()
    yield "disputed", cores.filter(disputed_at__isnull=False), IN_HOUSING
    yield "temporary", temporary, IN_HOUSING
    yield "empty", empty, AT_DOOR
    yield "unpinned", cores.filter(pinned_at__isnull=True), IN_HOUSING
    yield "unproven", pinned.exclude(_is_proven(part.site)), IN_HOUSING
    yield "proven", pinned, IN_HOUSING


def _is_proven(site: Site) -> Q:
    """Tried with the pins it has now, and nothing found of them that is not accepted."""
    proof = governing_proof(site)
    if proof is None:
        return Q(pk__in=[])
    found = Finding.objects.filter(proof=proof, core=OuterRef("pk"), pinned_at=OuterRef("pinned_at"))
    return Q(~Exists(found.filter(~Exists(accepting()))), pinned_at__lte=proof.asked_at)


def _of_work(part: Part) -> Sets:
    lines = OrderLine.objects.filter(order__site=part.site).order_by()
    shut = lines.filter(keeps_shut=True, shut_at__isnull=False, lifted_at__isnull=True)
    yield "shut", shut, IN_HOUSING
    yield "due", _case_doors(part.site).filter(is_due=True), AT_DOOR
    unfinished = lines.filter(state=OrderLine.State.OPEN)
    for code, state in (
        ("under-way", WorkOrder.State.UNDER_WAY),
        ("waiting", WorkOrder.State.WAITING),
        ("open", WorkOrder.State.OPEN),
    ):
        yield code, unfinished.filter(order__state=state, housing__isnull=False), IN_HOUSING
        yield code, unfinished.filter(order__state=state, door__isnull=False), AT_DOOR


def _of_losses(part: Part) -> Sets:
    yield "due", _case_doors(part.site).filter(is_due=True), AT_DOOR
    yield "exposed", _case_doors(part.site), AT_DOOR


def _case_doors(site: Site) -> QuerySet[CaseDoor]:
    """What the last look at each loss found that is not closed."""
    rows = CaseDoor.objects.exposed().filter(site=site, door__isnull=False, look=F("case__look"))
    return rows.filter(case__state__in=LossCase.UNFINISHED).order_by()


def _of_exposure(part: Part) -> Sets:
    pinned = part.cores.filter(pinned_at__isnull=False)
    assessed = pinned.filter(exposure__pinned_at=F("pinned_at"))
    for level, bound in reversed(list(enumerate((0, *BOUNDS), 1))):
        yield str(level), assessed.filter(exposure__accepts__gt=bound), IN_HOUSING
    yield "unknown", pinned, IN_HOUSING


def _of_keys(part: Part) -> Sets:
    for code, bound in BANDS:
        yield code, doors_over(part, bound), DOOR
    yield "0", part.cores.filter(pinned_at__isnull=False), IN_HOUSING


_SETS: dict[str, Callable[[Part], Sets]] = {
    CORES.code: _of_cores,
    WORK.code: _of_work,
    LOSSES.code: _of_losses,
    EXPOSURE.code: _of_exposure,
    KEYS.code: _of_keys,
}
