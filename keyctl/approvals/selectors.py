"""Reading requests: what waits for whom, how far each has come, and what a proposal would open."""

from dataclasses import dataclass

from django.db.models import Case, IntegerField, Q, QuerySet, When

from keyctl.accounts.models import User
from keyctl.approvals.access import visible_requests
from keyctl.approvals.deciders import decidable_steps
from keyctl.approvals.effects import effects
from keyctl.approvals.models import Grant, KeyRequest
from keyctl.approvals.progress import current_of, rows, stages, waits_for, with_names
from keyctl.approvals.proposals import ClosedDoor, Proposal, as_chosen, doors_without_opener, proposals_for
from keyctl.approvals.ruling import rules_mark
from keyctl.keys.selectors import stock_counts
from keyctl.places.models import Site
from keyctl.places.roles import Role
from keyctl.systems.models import KeySymbol

__all__ = [
    "ClosedDoor",
    "Proposal",
    "as_chosen",
    "current_of",
    "doors_without_opener",
    "effects",
    "proposals_for",
    "rows",
    "rules_mark",
    "stages",
    "waits_for",
    "with_names",
]

State = KeyRequest.State
OPEN = (State.ASKED, State.APPROVED, State.READY)


@dataclass(frozen=True)
class GrantLine:
    grant: Grant
    in_stock: int


def waiting_for(actor: User) -> QuerySet[KeyRequest]:
    """What the actor can move on: decisions in their buildings, keys to hand out. Longest waiting first."""
    return with_names(KeyRequest.objects.filter(_moved_by(actor))).order_by("asked_at", "pk")


def other_requests(actor: User) -> QuerySet[KeyRequest]:
    """The rest of what the actor sees: open ones first, then what is settled, newest first."""
    is_open = Case(When(state__in=OPEN, then=0), default=1, output_field=IntegerField())
    # Not a plain exclude of the condition: where the holder is nobody who signs in, it is unknown.
    rest = visible_requests(actor).exclude(pk__in=KeyRequest.objects.filter(_moved_by(actor)).values("pk"))
    return with_names(rest).order_by(is_open, "-asked_at", "pk")


def grant_lines(request: KeyRequest) -> list[GrantLine]:
    """Each key the request gives, with the copies that the desk could hand out for it."""
    grants = request.grants.select_related(
        "symbol__system", "copy", "handed_out_by", "reserved_copy__cabinet", "order_line__order"
    )
    stock = stock_counts(KeySymbol.objects.filter(grants__in=grants), request.building.site)
    return [GrantLine(grant, stock.get(grant.symbol_id, 0)) for grant in grants.order_by("symbol__symbol")]


def can_be_withdrawn(request: KeyRequest) -> bool:
    """Until one of its keys is in somebody's hand."""
    return request.state in OPEN and not request.grants.filter(copy__isnull=False).exists()


def _moved_by(actor: User) -> Q:
    decisions = Q(state=State.ASKED, pk__in=decidable_steps(actor).values("request"))
    desk_sites = Site.objects.for_roles(actor, Role.KEY_DESK)
    return decisions | Q(state__in=[State.APPROVED, State.READY], building__site__in=desk_sites)
