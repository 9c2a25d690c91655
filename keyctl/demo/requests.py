"""Requests of the invented estate at every state, with rules, a substitute and one that waits too long."""

from datetime import date, timedelta

from django.utils import timezone

from keyctl.accounts.models import User
from keyctl.approvals.models import KeyRequest
from keyctl.approvals.proposals import proposals_for
from keyctl.approvals.services import (
    add_rule,
    approve_request,
    ask_for_key,
    collect,
    name_substitute,
    refuse_request,
    withdraw_request,
)
from keyctl.approvals.services.escalating import escalate_silent_steps
from keyctl.keys.models import Holder, KeyCopy
from keyctl.keys.signing import Signature
from keyctl.places.models import Building, Door, Membership, Site
from keyctl.places.roles import Role
from keyctl.systems.models import KeySymbol

DEPUTY = "deputy-manager"
WAITED = timedelta(days=3)


def build_requests(people: dict[Role, User]) -> None:
    """After the first proof: what keys open is known from then on."""
    site = Site.objects.order_by("code")[0]
    deputy = _deputy(people, site)
    _rules(people, site)
    buildings = list(Building.objects.filter(site=site).order_by("code"))
    _decided(people, buildings, deputy)
    _master(people, buildings[0])
    _silent(people, buildings[-1])


def _deputy(people: dict[Role, User], site: Site) -> User:
    """Somebody who decides while the manager is away; nobody can sign in as them."""
    deputy = User.objects.create_user(DEPUTY, display_name="Demo deputy manager")
    Membership.objects.create(user=deputy, site=site, role=Role.MANAGER)
    today = timezone.localdate()
    name_substitute(
        actor=people[Role.MANAGER],
        site=site,
        person=people[Role.MANAGER],
        stands_in=deputy,
        since=today,
        until=today + timedelta(days=13),
    )
    return deputy


def _rules(people: dict[Role, User], site: Site) -> None:
    """The first site wants named people for top keys, beside the starting set."""
    add_rule(
        actor=people[Role.ADMINISTRATOR],
        site=site,
        when="top",
        who="named",
        people=[people[Role.ADMINISTRATOR], people[Role.AUDITOR]],
        is_apart=True,
        silent_hours=24,
    )


def _decided(people: dict[Role, User], buildings: list[Building], deputy: User) -> None:
    """Approved by a substitute and being cut, ready, collected, refused and withdrawn."""
    manager, requester, desk = people[Role.MANAGER], people[Role.REQUESTER], people[Role.KEY_DESK]
    until = timezone.localdate() + timedelta(days=60)
    by_deputy = _ask(requester, _some(buildings[0], 3), "Replacing the filters", until)
    _choose(deputy, by_deputy, "Bring it back when the work is done.")
    stocked = _stocked(buildings[0].site)
    for door, reason in zip(stocked, ("Sealing the windows", "Looking after the plants"), strict=False):
        asked = _choose(manager, _ask(requester, [door], reason, until))
        if reason == "Looking after the plants" and asked.state == KeyRequest.State.READY:
            _collect(desk, asked)
    refused = _ask(requester, _some(buildings[0], 5), "In case I need it")
    note = "Ask again when you know for what you need the key."
    refuse_request(actor=manager, request=refused, version=refused.version, note=note)
    withdrawn = _ask(requester, _some(buildings[0], 6), "Setting up a lecture")
    withdraw_request(actor=requester, request=withdrawn)


def _master(people: dict[Role, User], building: Building) -> None:
    """The manager chose a master; a security officer decides next."""
    asked = _ask(people[Role.REQUESTER], _some(building, 0, 6), "Cleaning the whole corridor")
    if any(proposal.has_master for proposal in proposals_for(asked)):
        _choose(people[Role.MANAGER], asked, wants_master=True)


def _silent(people: dict[Role, User], building: Building) -> None:
    """Nobody has decided for days, so those asked were reminded."""
    asked = _ask(people[Role.REQUESTER], _some(building, 1), "Reading the meters")
    now = timezone.now()
    KeyRequest.objects.filter(pk=asked.pk).update(asked_at=now - WAITED)
    asked.steps.update(since=now - WAITED, due_at=now - WAITED + timedelta(hours=48))
    escalate_silent_steps(now)


def _some(building: Building, at: int, count: int = 1) -> list[Door]:
    """Doors of the ordinary class that keys open, from a place on in the order of the building."""
    doors = Door.objects.filter(
        floor__building=building, door_class=Door.DoorClass.ORDINARY, housings__cores__turns__operates=True
    )
    return list(doors.distinct().order_by("floor__level", "number")[at : at + count])


def _stocked(site: Site) -> list[Door]:
    """Two doors whose own keys lie in a cabinet of the site."""
    copies = KeyCopy.objects.filter(
        site=site, state=KeyCopy.State.IN_CABINET, symbol__kind=KeySymbol.Kind.CHANGE
    )
    doors = Door.objects.filter(
        floor__building__site=site,
        door_class=Door.DoorClass.ORDINARY,
        housings__cores__turns__symbol__in=copies.values("symbol"),
        housings__cores__turns__operates=True,
    )
    return list(doors.distinct().order_by("floor__building__code", "number")[:2])


def _ask(requester: User, doors: list[Door], reason: str, until: date | None = None) -> KeyRequest:
    holder = Holder.objects.get(user=requester, site=doors[0].site)
    return ask_for_key(actor=requester, holder=holder, doors=doors, reason=reason, needed_until=until)


def _choose(actor: User, request: KeyRequest, note: str = "", *, wants_master: bool = False) -> KeyRequest:
    """The keys that open the fewest extra doors, or a master; officers agree to neither by themselves."""
    proposals = proposals_for(request)
    chosen = next((each for each in proposals if each.has_master == wants_master), proposals[0])
    return approve_request(
        actor=actor, request=request, version=request.version, proposal=chosen.key, note=note
    )


def _collect(desk: User, request: KeyRequest) -> None:
    """Where a copy was in stock; else it is being cut, which is a state of its own."""
    copies = list(KeyCopy.objects.filter(reservations__request=request))
    if copies:
        collect(actor=desk, request=request, copies=copies, signature=Signature(str(request.holder)))
