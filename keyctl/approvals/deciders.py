"""Which steps a person may decide today, in their own right or in somebody's place: as conditions.

The same rule stands in ``roll.py`` as a list of people, from one step to whom it may be decided by.
``tests/keyctl/approvals/test_deciders.py`` holds the two equal.
"""

from django.db.models import Q, QuerySet

from keyctl.accounts.models import User
from keyctl.approvals.models import Deciders, KeyRequest, Step, Substitute
from keyctl.places.models import Building, Membership, Site
from keyctl.places.roles import STAFF, Role

# After this much silence security officers may decide what waits for others.
REACHED_OFFICERS = (Step.Told.OFFICER, Step.Told.ADMINISTRATOR)
# A program decides about no key, whoever gives it a role.
WORKERS = tuple(role for role in STAFF if role is not Role.INTEGRATION)
NOTHING = Q(pk__in=[])


def current_steps() -> QuerySet[Step]:
    return Step.objects.filter(
        state=Step.State.WAITING, since__isnull=False, request__state=KeyRequest.State.ASKED
    )


def managed_buildings(actor: User) -> QuerySet[Building]:
    """Named for the building, and holding the role at its site: one without the other decides nothing."""
    sites = Site.objects.for_roles(actor, Role.MANAGER)
    return Building.objects.filter(managers__user=actor, site__in=sites)


def decidable_steps(actor: User) -> QuerySet[Step]:
    """The steps whose turn it is and that the actor may decide now."""
    rights = NOTHING if not actor.is_active else _own_right(actor) | _in_places(actor)
    steps = current_steps().filter(pk__in=current_steps().filter(rights).values("pk"))
    return steps.exclude(pk__in=Step.objects.filter(_barred(actor)).values("pk"))


def steps_of(actor: User) -> QuerySet[Step]:
    """Every step the actor decides or decided, in any state: what lets them look at its request."""
    rights = (
        _own_right(actor)
        | _in_places(actor)
        | Q(decided_by=actor, request__building__site__in=Site.objects.for_roles(actor, *WORKERS))
    )
    return Step.objects.filter(rights)


def _own_right(actor: User) -> Q:
    officer_at = Site.objects.for_roles(actor, Role.OFFICER)
    return (
        Q(who=Deciders.BUILDING, request__building__in=managed_buildings(actor))
        | Q(who=Deciders.OFFICER, request__building__site__in=officer_at)
        | Q(told__in=REACHED_OFFICERS, request__building__site__in=officer_at)
        | Q(
            who=Deciders.NAMED,
            people=actor,
            request__building__site__in=Site.objects.for_roles(actor, *WORKERS),
        )
    )


def _in_places(actor: User) -> Q:
    """In the place of each person the actor stands in for; a handful of them at most."""
    rights = NOTHING
    for each in Substitute.objects.in_force().filter(stands_in=actor).select_related("person"):
        rights |= _in_place_of(actor, each)
    return rights


def _in_place_of(actor: User, each: Substitute) -> Q:
    place = Q(request__building__site=each.site_id)
    if each.building_id:
        place &= Q(request__building=each.building_id)
    held = set(Membership.objects.filter(user=actor, site=each.site_id).values_list("role", flat=True))
    persons = set(
        Membership.objects.filter(user=each.person_id, site=each.site_id).values_list("role", flat=True)
    )
    if not each.person.is_active:
        return NOTHING
    rights = NOTHING
    if Role.MANAGER in held & persons:
        rights |= Q(who=Deciders.BUILDING, request__building__in=managed_buildings(each.person))
    if Role.OFFICER in held & persons:
        rights |= Q(who=Deciders.OFFICER)
    if held & set(WORKERS) and persons & set(WORKERS):
        rights |= Q(who=Deciders.NAMED, people=each.person_id)
    return rights & place & ~Q(pk__in=Step.objects.filter(_barred(each.person)).values("pk"))


def _barred(actor: User) -> Q:
    """Who asks or gets the key; their substitutes and those they stand in for; and, where a step wants
    somebody else, who decided another such step or had it decided in their place."""
    own = Q(asked_by=actor) | Q(asked_for=actor)
    links = Substitute.objects.in_force().filter(Q(person=actor) | Q(stands_in=actor))
    for site, person, stands_in in links.values_list("site", "person", "stands_in"):
        other = stands_in if person == actor.pk else person
        at_site = Q(request__building__site=site)
        own |= at_site & (Q(asked_by=other) | Q(asked_for=other))
    decided = Step.objects.filter(is_apart=True).filter(Q(decided_by=actor) | Q(for_person=actor))
    return own | Q(is_apart=True, request__in=decided.values("request"))
