"""Whom a step may be decided by, today: a list of people, to ask them, to name them, and to check a decider.

The same rule stands in ``deciders.py`` as a condition of the database, from one person to their steps.
``tests/keyctl/approvals/test_deciders.py`` holds the two equal.
"""

from collections import defaultdict
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from uuid import UUID

from django.db.models import Q
from django.utils.translation import gettext as _

from keyctl.accounts.models import User
from keyctl.approvals.deciders import REACHED_OFFICERS, WORKERS
from keyctl.approvals.models import Deciders, Step, Substitute
from keyctl.places.models import BuildingManager, Membership
from keyctl.places.roles import Role

# What a substitute must hold at the site to decide in the place of such people.
_ROLES: dict[Deciders, tuple[Role, ...]] = {
    Deciders.BUILDING: (Role.MANAGER,),
    Deciders.OFFICER: (Role.OFFICER,),
    Deciders.NAMED: WORKERS,
}


@dataclass(frozen=True)
class Decider:
    """``for_person`` is whom they stand in for; None where they decide in their own right."""

    user: User
    for_person: User | None = None

    def __str__(self) -> str:
        if self.for_person is None:
            return str(self.user)
        return _("{name} (for {person})").format(name=self.user, person=self.for_person)


@dataclass(frozen=True)
class Roll:
    """People, roles and substitutes of the sites of some steps, as they are now."""

    users: Mapping[UUID, User]
    # User identifiers by site, then roles by user.
    roles: Mapping[UUID, Mapping[UUID, frozenset[str]]]
    managers: Mapping[UUID, Sequence[UUID]]
    substitutes: Sequence[Substitute]

    def holds(self, user: UUID, site: UUID, *roles: Role) -> bool:
        return bool(self.roles.get(site, {}).get(user, frozenset()) & set(roles))

    def linked(self, site: UUID, people: Collection[UUID | None]) -> set[UUID]:
        """Who stands in for one of the people at the site, or for whom one of them stands in."""
        here = [each for each in self.substitutes if each.site_id == site]
        return {each.stands_in_id for each in here if each.person_id in people} | {
            each.person_id for each in here if each.stands_in_id in people
        }


def roll_of(steps: Sequence[Step]) -> Roll:
    """Four queries, however many steps. The steps come with their request, its building, and people."""
    buildings = {step.request.building_id for step in steps}
    sites = {step.request.building.site_id for step in steps}
    managers: dict[UUID, list[UUID]] = defaultdict(list)
    named = BuildingManager.objects.filter(building__in=buildings).order_by("user__username")
    for building, user in named.values_list("building", "user"):
        managers[building].append(user)
    substitutes = list(Substitute.objects.in_force().filter(site__in=sites).select_related("person"))
    wanted = {user for users in managers.values() for user in users}
    wanted |= {each.stands_in_id for each in substitutes} | {each.person_id for each in substitutes}
    wanted |= {person.pk for step in steps for person in step.people.all()}
    held = Membership.objects.filter(site__in=sites, user__is_active=True).select_related("user")
    roles: dict[UUID, dict[UUID, frozenset[str]]] = defaultdict(dict)
    users = {}
    for row in held.filter(Q(role=Role.OFFICER) | Q(user__in=wanted)).order_by("user__username"):
        users[row.user_id] = row.user
        at_site = roles[row.site_id]
        at_site[row.user_id] = at_site.get(row.user_id, frozenset()) | {row.role}
    return Roll(users, roles, managers, substitutes)


def deciders(step: Step, roll: Roll | None = None) -> list[Decider]:
    """Whom the step may be decided by: those asked, then who stands in for one of them."""
    roll = roll_of([step]) if roll is None else roll
    site, barred = step.request.building.site_id, _barred_people(step, roll)
    asked = _asked(step, roll)
    found = {pk: Decider(roll.users[pk]) for pk in [*asked, *_officers_reached(step, roll)]}
    for each in roll.substitutes:
        stands_in = (
            each.site_id == site
            and each.building_id in {None, step.request.building_id}
            and each.person_id in asked
            and each.person_id not in barred
            and roll.holds(each.stands_in_id, site, *_ROLES[Deciders(step.who)])
        )
        if stands_in:
            decider = Decider(roll.users[each.stands_in_id], roll.users[each.person_id])
            found.setdefault(each.stands_in_id, decider)
    return [decider for pk, decider in found.items() if pk not in barred]


def _asked(step: Step, roll: Roll) -> list[UUID]:
    site = step.request.building.site_id
    if step.who == Deciders.OFFICER:
        return _officers(site, roll)
    if step.who == Deciders.NAMED:
        return [person.pk for person in step.people.all() if roll.holds(person.pk, site, *WORKERS)]
    named = roll.managers.get(step.request.building_id, ())
    return [pk for pk in named if roll.holds(pk, site, Role.MANAGER)]


def _officers_reached(step: Step, roll: Roll) -> list[UUID]:
    return _officers(step.request.building.site_id, roll) if step.told in REACHED_OFFICERS else []


def _officers(site: UUID, roll: Roll) -> list[UUID]:
    return [pk for pk, roles in roll.roles.get(site, {}).items() if Role.OFFICER in roles]


def _barred_people(step: Step, roll: Roll) -> set[UUID]:
    """Who asks, who gets the key, their substitutes and those they stand in for; and, where the step wants
    somebody else, who decided another such step or had it decided in their place."""
    own = {step.asked_by_id, step.asked_for_id}
    barred = {pk for pk in own if pk} | roll.linked(step.request.building.site_id, own)
    if step.is_apart:
        for other in step.request.steps.all():
            if other.is_apart and other.pk != step.pk:
                barred |= {pk for pk in (other.decided_by_id, other.for_person_id) if pk}
    return barred
