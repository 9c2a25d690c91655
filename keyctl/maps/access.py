"""Who may look at which picture. A foreign thing is not found; a role that does not suffice is forbidden.

A question of the map is open to who may read the lists it is drawn from.
"""

from uuid import UUID

from django.core.exceptions import PermissionDenied
from django.shortcuts import get_object_or_404

from keyctl.accounts.models import User
from keyctl.cores.access import readable_core
from keyctl.cores.models import Core
from keyctl.keys.access import READERS as KEY_READERS
from keyctl.keys.access import readable_copy
from keyctl.keys.models import KeyCopy
from keyctl.maps.questions import QUESTIONS, Question
from keyctl.places.access import has_role, require_role, require_role_somewhere, site_for
from keyctl.places.models import Building, Floor, Membership, Site
from keyctl.systems.models import KeySystem

MAP_READERS = tuple({role for question in QUESTIONS for role in question.roles})


def mapped_site(actor: User, pk: UUID) -> Site:
    return site_for(actor, pk, *MAP_READERS)


def mapped_building(actor: User, pk: UUID) -> Building:
    building = get_object_or_404(Building.objects.select_related("site"), pk=pk)
    require_role(actor, building.site, *MAP_READERS)
    return building


def mapped_floor(actor: User, pk: UUID) -> Floor:
    floor = get_object_or_404(Floor.objects.select_related("building__site"), pk=pk)
    require_role(actor, floor.building.site, *MAP_READERS)
    return floor


def questions_for(actor: User, site: Site) -> list[Question]:
    """What the actor may ask there, the usual question first."""
    held = set(Membership.objects.filter(user=actor, site=site).values_list("role", flat=True))
    return [question for question in QUESTIONS if held & set(question.roles)]


def chosen_question(offered: list[Question], wanted: str) -> Question:
    """The one that was asked, the first where none was; one that is not the actor's to ask is forbidden."""
    if not wanted:
        return offered[0]
    for question in offered:
        if question.code == wanted:
            return question
    raise PermissionDenied


def site_of_keys(actor: User, pk: UUID) -> Site:
    """A site whose register the actor may read."""
    return site_for(actor, pk, *KEY_READERS)


def system_of_keys(actor: User, pk: UUID) -> KeySystem:
    system = get_object_or_404(KeySystem, pk=pk)
    require_role_somewhere(actor, system.sites.all(), *KEY_READERS)
    return system


def followed_copy(actor: User, pk: UUID) -> KeyCopy:
    """Whoever reads the page of the copy, which names its holders."""
    return readable_copy(actor, pk)


def followed_core(actor: User, pk: UUID) -> Core:
    return readable_core(actor, pk)


def may_map(actor: User, site: Site) -> bool:
    return has_role(actor, site, *MAP_READERS)


def may_follow_keys(actor: User, site: Site) -> bool:
    return has_role(actor, site, *KEY_READERS)
