"""Reading requests: what waits for whom, how far each has come, and what a proposal would open."""

from collections import defaultdict
from dataclasses import dataclass
from uuid import UUID

from django.db.models import Case, Count, F, IntegerField, Prefetch, Q, QuerySet, When

from keyctl.accounts.models import User
from keyctl.approvals.access import managed_buildings, visible_requests
from keyctl.approvals.models import Grant, KeyRequest
from keyctl.approvals.proposals import ClosedDoor, Proposal, doors_without_opener, proposals_for
from keyctl.keys.models import KeyCopy
from keyctl.keys.selectors import held_by, stock_counts
from keyctl.places.access import visible_doors
from keyctl.places.models import Building, BuildingManager, Door, Site
from keyctl.places.roles import Role
from keyctl.systems.models import KeySymbol

__all__ = ["ClosedDoor", "Proposal", "doors_without_opener", "proposals_for"]

State = KeyRequest.State
MOST_LISTED = 200
MOST_FOUND = 30


@dataclass(frozen=True)
class Row:
    request: KeyRequest
    waits_for: str


@dataclass(frozen=True)
class Step:
    label: str
    is_done: bool
    is_current: bool


@dataclass(frozen=True)
class InBuilding:
    """Doors of one building that would open though nobody asked; ``doors`` may be the first of them only."""

    building: Building
    count: int
    doors: list[Door]

    @property
    def unlisted(self) -> int:
        return self.count - len(self.doors)


@dataclass(frozen=True)
class Effect:
    proposal: Proposal
    buildings: list[InBuilding]
    # Doors at sites that the reader may not look at: counted, never named.
    elsewhere: int
    held_already: list[KeyCopy]


@dataclass(frozen=True)
class DoorChoice:
    chosen: list[Door]
    found: list[Door]
    is_cut_short: bool


@dataclass(frozen=True)
class GrantLine:
    grant: Grant
    in_stock: int


def waiting_for(actor: User) -> QuerySet[KeyRequest]:
    """What the actor can move on: decisions in their buildings, keys to hand out. Longest waiting first."""
    return with_names(KeyRequest.objects.filter(_moved_by(actor))).order_by("asked_at", "pk")


def other_requests(actor: User) -> QuerySet[KeyRequest]:
    """The rest of what the actor sees: open ones first, then what is settled, newest first."""
    is_open = Case(
        When(state__in=[State.ASKED, State.APPROVED], then=0), default=1, output_field=IntegerField()
    )
    # Not a plain exclude of the condition: where the holder is nobody who signs in, it is unknown.
    rest = visible_requests(actor).exclude(pk__in=KeyRequest.objects.filter(_moved_by(actor)).values("pk"))
    return with_names(rest).order_by(is_open, "-asked_at", "pk")


def with_names(requests: QuerySet[KeyRequest]) -> QuerySet[KeyRequest]:
    deciders = BuildingManager.objects.select_related("user").filter(
        user__memberships__role=Role.MANAGER, user__memberships__site=F("building__site")
    )
    return requests.select_related("building__site", "holder", "requester", "decided_by").prefetch_related(
        Prefetch("building__managers", queryset=deciders.order_by("user__username")), "doors"
    )


def rows(requests: "list[KeyRequest]") -> list[Row]:
    return [Row(request, waits_for(request)) for request in requests]


def waits_for(request: KeyRequest) -> str:
    if request.state == State.APPROVED:
        return "the key desk"
    if request.state != State.ASKED:
        return ""
    barred = {request.requester_id, request.holder_user_id}
    names = [str(each.user) for each in request.building.managers.all() if each.user_id not in barred]
    return " or ".join(names) or f"a manager of {request.building}, who has yet to be named"


def steps(request: KeyRequest) -> list[Step]:
    if request.state in {State.REFUSED, State.WITHDRAWN}:
        return [Step("Asked", True, False), Step(State(request.state).label, False, True)]
    labels = ["Asked", "Decided by a manager", "Handed out at the desk"]
    done = {State.ASKED: 1, State.APPROVED: 2, State.HANDED_OUT: 3}[State(request.state)]
    return [Step(label, place < done, place == done) for place, label in enumerate(labels)]


def effects(actor: User, request: KeyRequest, proposals: list[Proposal]) -> list[Effect]:
    held = list(held_by(request.holder))
    return [_effect(actor, request, proposal, held) for proposal in proposals]


def grant_lines(request: KeyRequest) -> list[GrantLine]:
    """Each key the request gives, with the copies that the desk could hand out for it."""
    grants = request.grants.select_related("symbol__system", "copy", "handed_out_by")
    stock = stock_counts(KeySymbol.objects.filter(grants__in=grants), request.building.site)
    return [GrantLine(grant, stock.get(grant.symbol_id, 0)) for grant in grants.order_by("symbol__symbol")]


def doors_to_choose(building: Building, text: str, chosen: list[str]) -> DoorChoice:
    """The doors chosen so far, and further ones whose number or name holds the text."""
    doors = Door.objects.filter(floor__building=building).with_places()
    kept = list(doors.filter(pk__in=_identifiers(chosen)))
    found = doors.filter(Q(number__icontains=text) | Q(name__icontains=text)).exclude(
        pk__in=[d.pk for d in kept]
    )
    first = list(found[: MOST_FOUND + 1])
    return DoorChoice(kept, first[:MOST_FOUND], len(first) > MOST_FOUND)


def _moved_by(actor: User) -> Q:
    not_own = ~Q(requester=actor) & (Q(holder_user__isnull=True) | ~Q(holder_user=actor))
    decisions = Q(state=State.ASKED, building__in=managed_buildings(actor)) & not_own
    desk_sites = Site.objects.for_roles(actor, Role.KEY_DESK)
    return decisions | Q(state=State.APPROVED, building__site__in=desk_sites)


def _effect(actor: User, request: KeyRequest, proposal: Proposal, held: list[KeyCopy]) -> Effect:
    symbols = {symbol.pk for symbol in proposal.symbols}
    turned = Door.objects.filter(
        housings__cores__turns__symbol__in=symbols, housings__cores__turns__operates=True
    )
    extra = visible_doors(actor).filter(pk__in=turned.values("pk")).exclude(pk__in=request.doors.values("pk"))
    buildings = _by_building(extra)
    return Effect(
        proposal=proposal,
        buildings=buildings,
        elsewhere=len(proposal.extra) - sum(each.count for each in buildings),
        held_already=[copy for copy in held if copy.symbol_id in symbols],
    )


def _by_building(doors: QuerySet[Door]) -> list[InBuilding]:
    """Counts are whole; of a great many doors only the first are named."""
    counts = dict(doors.order_by().values_list("floor__building").annotate(Count("pk")))
    listed: dict[UUID, list[Door]] = defaultdict(list)
    for door in doors[:MOST_LISTED]:
        listed[door.building.pk].append(door)
    buildings = Building.objects.filter(pk__in=counts).select_related("site")
    return [InBuilding(each, counts[each.pk], listed[each.pk]) for each in buildings]


def _identifiers(texts: list[str]) -> list[UUID]:
    """What a browser sent as identifiers, without what cannot be one."""
    found = []
    for text in texts:
        try:
            found.append(UUID(text))
        except ValueError:
            continue
    return found
