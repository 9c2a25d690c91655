"""Writing new places down: sites, buildings, floors, spaces, doors and housings."""

from collections.abc import Sequence
from typing import Any

from django.db import transaction
from django.utils.translation import gettext as _

from keyctl.accounts.models import User
from keyctl.audit.services import record
from keyctl.lib.errors import Refused
from keyctl.lib.language import in_english
from keyctl.places.access import require_role
from keyctl.places.models import Building, Door, Floor, Housing, Membership, Site, Space
from keyctl.places.roles import DOOR_KEEPERS, PLACE_KEEPERS, Role
from keyctl.places.services.locking import hold


@transaction.atomic
def add_site(*, actor: User, code: str, name: str) -> Site:
    """A new site, administered by whoever adds it."""
    if Site.objects.filter(code=code).exists():
        raise Refused(_("There is a site {code} already; give the new one another code.").format(code=code))
    site = Site.objects.create(code=code, name=name)
    Membership.objects.create(user=actor, site=site, role=Role.ADMINISTRATOR)
    record(
        actor=actor, verb="site.added", sentence=f"added the site {name}", site_id=site.pk, subjects=[site]
    )
    return site


@transaction.atomic
def add_building(*, actor: User, site: Site, code: str, name: str) -> Building:
    require_role(actor, site, *PLACE_KEEPERS)
    hold(site)
    if Building.objects.filter(site=site, code=code).exists():
        raise Refused(
            _("{site} has a building {code} already; give the new one another code.").format(
                site=site, code=code
            )
        )
    building = Building.objects.create(site=site, code=code, name=name)
    record(
        actor=actor,
        verb="building.added",
        sentence=f"added the building {name} to {site}",
        site_id=site.pk,
        subjects=[building],
    )
    return building


@transaction.atomic
def add_floor(*, actor: User, building: Building, label: str, level: int) -> Floor:
    require_role(actor, building.site, *PLACE_KEEPERS)
    hold(building)
    if Floor.objects.filter(building=building, label=label).exists():
        raise Refused(
            _("{building} has a floor called {label} already; call the new one otherwise.").format(
                building=building, label=label
            )
        )
    floor = Floor.objects.create(building=building, label=label, level=level)
    record(
        actor=actor,
        verb="floor.added",
        sentence=f"added {label} to {building}",
        site_id=building.site_id,
        subjects=[floor, building],
    )
    return floor


@transaction.atomic
def add_space(*, actor: User, floor: Floor, number: str, name: str = "") -> Space:
    require_role(actor, floor.building.site, *PLACE_KEEPERS)
    hold(floor)
    if Space.objects.filter(floor=floor, number=number).exists():
        raise Refused(
            _("{floor} of {building} has a space {number} already; give the new one another number.").format(
                floor=floor, building=floor.building, number=number
            )
        )
    space = Space.objects.create(floor=floor, number=number, name=name)
    record(
        actor=actor,
        verb="space.added",
        sentence=f"added the space {space} to {floor} of {floor.building}",
        site_id=space.site.pk,
        subjects=[space, floor],
    )
    return space


@transaction.atomic
def add_door(*, actor: User, floor: Floor, number: str, spaces: Sequence[Space] = (), **facts: Any) -> Door:
    require_role(actor, floor.building.site, *DOOR_KEEPERS)
    hold(floor)
    if Door.objects.filter(floor=floor, number=number).exists():
        raise Refused(
            _("{floor} of {building} has a door {number} already; give the new one another number.").format(
                floor=floor, building=floor.building, number=number
            )
        )
    refuse_spaces_elsewhere(floor, spaces)
    door = Door.objects.create(floor=floor, number=number, **facts)
    door.spaces.set(spaces)
    _record_door(actor, "door.added", f"added door {door}", door)
    return door


@transaction.atomic
def add_housing(*, actor: User, door: Door, kind: str, construction: str, label: str = "") -> Housing:
    require_role(actor, door.site, *DOOR_KEEPERS)
    hold(door)
    if Housing.objects.filter(door=door, kind=kind, label=label).exists():
        raise Refused(
            _("{door} has such a housing already; give this one a label that tells them apart.").format(
                door=door
            )
        )
    housing = Housing.objects.create(door=door, kind=kind, construction=construction, label=label)
    record(
        actor=actor,
        verb="housing.added",
        sentence=f"added a housing: {in_english(housing)}",
        site_id=door.site.pk,
        subjects=[door, housing],
    )
    return housing


@transaction.atomic
def add_door_with_housing(*, actor: User, floor: Floor, kind: str, construction: str, **facts: Any) -> Door:
    """A door is of use once a core can go into it."""
    door = add_door(actor=actor, floor=floor, **facts)
    add_housing(actor=actor, door=door, kind=kind, construction=construction)
    return door


def refuse_spaces_elsewhere(floor: Floor, spaces: Sequence[Space]) -> None:
    """A door between two houses joins spaces of both; it joins none of another site."""
    for space in spaces:
        if space.site.pk != floor.building.site_id:
            raise Refused(
                _("The space {space} is at another site; name spaces of {site}.").format(
                    space=space, site=floor.building.site
                )
            )


def _record_door(actor: User, verb: str, sentence: str, door: Door) -> None:
    record(actor=actor, verb=verb, sentence=sentence, site_id=door.site.pk, subjects=[door])
