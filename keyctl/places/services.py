"""Writing down the places: sites, buildings, floors, doors and housings, and who holds which role."""

from typing import Any

from django.db import transaction

from keyctl.accounts.models import User
from keyctl.accounts.services import make_first_code
from keyctl.audit.services import record
from keyctl.lib.errors import Refused
from keyctl.places.access import require_role
from keyctl.places.models import Building, BuildingManager, Door, Floor, Housing, Membership, Site
from keyctl.places.roles import Role


@transaction.atomic
def add_site(*, actor: User, code: str, name: str) -> Site:
    """A new site, administered by whoever adds it."""
    if Site.objects.filter(code=code).exists():
        raise Refused(f"There is a site {code} already; give the new one another code.")
    site = Site.objects.create(code=code, name=name)
    Membership.objects.create(user=actor, site=site, role=Role.ADMINISTRATOR)
    record(
        actor=actor, verb="site.added", sentence=f"added the site {name}", site_id=site.pk, subjects=[site]
    )
    return site


@transaction.atomic
def add_building(*, actor: User, site: Site, code: str, name: str) -> Building:
    require_role(actor, site, Role.ADMINISTRATOR)
    if Building.objects.filter(site=site, code=code).exists():
        raise Refused(f"{site} has a building {code} already; give the new one another code.")
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
    require_role(actor, building.site, Role.ADMINISTRATOR)
    if Floor.objects.filter(building=building, label=label).exists():
        raise Refused(f"{building} has a floor called {label} already; call the new one otherwise.")
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
def add_door(
    *,
    actor: User,
    floor: Floor,
    number: str,
    name: str = "",
    door_class: str = Door.DoorClass.ORDINARY,
    is_egress: bool = False,
    is_fire_rated: bool = False,
) -> Door:
    require_role(actor, floor.building.site, Role.ADMINISTRATOR, Role.LOCKSMITH)
    if Door.objects.filter(floor=floor, number=number).exists():
        raise Refused(
            f"{floor} of {floor.building} has a door {number} already; give the new one another number."
        )
    door = Door.objects.create(
        floor=floor,
        number=number,
        name=name,
        door_class=door_class,
        is_egress=is_egress,
        is_fire_rated=is_fire_rated,
    )
    _record_door(actor, "door.added", f"added door {door}", door)
    return door


@transaction.atomic
def add_housing(*, actor: User, door: Door, kind: str, construction: str, label: str = "") -> Housing:
    require_role(actor, door.site, Role.ADMINISTRATOR, Role.LOCKSMITH)
    if Housing.objects.filter(door=door, kind=kind, label=label).exists():
        raise Refused(f"{door} has such a housing already; give this one a label that tells them apart.")
    housing = Housing.objects.create(door=door, kind=kind, construction=construction, label=label)
    _record_door(actor, "housing.added", f"added a housing: {housing}", door)
    return housing


@transaction.atomic
def grant_role(*, actor: User, user: User, site: Site, role: Role) -> Membership:
    require_role(actor, site, Role.ADMINISTRATOR)
    membership, is_new = Membership.objects.get_or_create(user=user, site=site, role=role)
    if is_new:
        record(
            actor=actor,
            verb="role.granted",
            sentence=f"made {user} {role.label.lower()} at {site}",
            site_id=site.pk,
            subjects=[user],
        )
    return membership


@transaction.atomic
def add_door_with_housing(*, actor: User, floor: Floor, kind: str, construction: str, **facts: Any) -> Door:
    """A door is of use once a core can go into it."""
    door = add_door(actor=actor, floor=floor, **facts)
    add_housing(actor=actor, door=door, kind=kind, construction=construction)
    return door


@transaction.atomic
def add_person(
    *, actor: User, site: Site, username: str, display_name: str, role: Role, email: str = ""
) -> tuple[User, str]:
    """A new person without a password, and the code by which they set one: shown once, good for one use."""
    require_role(actor, site, Role.ADMINISTRATOR)
    if User.objects.filter(username=username).exists():
        raise Refused(f"Somebody signs in as {username} already; choose another sign-in name.")
    user = User.objects.create_user(username, display_name=display_name, email=email)
    record(
        actor=actor,
        verb="person.added",
        sentence=f"added {display_name} as a person who signs in",
        site_id=site.pk,
        subjects=[user],
    )
    grant_role(actor=actor, user=user, site=site, role=role)
    return user, make_first_code(user=user)


@transaction.atomic
def name_manager(*, actor: User, building: Building, username: str) -> BuildingManager:
    """Who decides requests for keys of the building."""
    require_role(actor, building.site, Role.ADMINISTRATOR)
    user = User.objects.filter(username=username, memberships__site=building.site).first()
    if user is None:
        raise Refused(f"Nobody at {building.site} signs in as {username}; add the person first.")
    grant_role(actor=actor, user=user, site=building.site, role=Role.MANAGER)
    manager, is_new = BuildingManager.objects.get_or_create(building=building, user=user)
    if is_new:
        record(
            actor=actor,
            verb="building.manager_named",
            sentence=f"named {user} as a manager of {building}",
            site_id=building.site_id,
            subjects=[building, user],
        )
    return manager


def _record_door(actor: User, verb: str, sentence: str, door: Door) -> None:
    record(actor=actor, verb=verb, sentence=sentence, site_id=door.site.pk, subjects=[door])
