"""Finding doors by what stands on them and where they are, and what happened to things there."""

from django.core.exceptions import PermissionDenied
from django.db.models import Model, Q, QuerySet

from keyctl.accounts.models import User
from keyctl.audit.models import Event
from keyctl.audit.selectors import history_of
from keyctl.places.access import visible_buildings, visible_doors, visible_sites
from keyctl.places.models import Building, Door, Membership, Site
from keyctl.places.roles import Role


def estate_sites(actor: User) -> QuerySet[Site]:
    """The sites whose estate the actor may look at; somebody who only asks for keys has none."""
    sites = visible_sites(actor)
    if not sites:
        raise PermissionDenied
    return sites


def doors_in(actor: User, *, site: Site | None = None, building: Building | None = None) -> QuerySet[Door]:
    doors = visible_doors(actor)
    if building:
        return doors.filter(floor__building=building)
    return doors.filter(floor__building__site=site) if site else doors


def people_at(sites: Site | QuerySet[Site], *roles: Role) -> QuerySet[User]:
    """Who may sign in and has one of the roles there, or any role where none is named."""
    held = Membership.objects.filter(site__in=[sites] if isinstance(sites, Site) else sites)
    if roles:
        held = held.filter(role__in=roles)
    return User.objects.filter(pk__in=held.values("user"), is_active=True).order_by("display_name", "pk")


def named_like(text: str) -> Q:
    """Doors that carry every word: in their number, the room's name, the building or the site."""
    wanted = Q()
    for word in text.split():
        wanted &= (
            Q(number__icontains=word)
            | Q(name__icontains=word)
            | Q(floor__building__code__iexact=word)
            | Q(floor__building__name__icontains=word)
            | Q(floor__building__site__code__iexact=word)
        )
    return wanted


def buildings_of(actor: User, site: Site) -> QuerySet[Building]:
    return visible_buildings(actor).filter(site=site)


def visible_history(actor: User, thing: Model) -> QuerySet[Event]:
    """What happened to a thing, at the sites one may look at: a key system may serve others too."""
    sites = visible_sites(actor).values("pk")
    return history_of(thing).filter(Q(site_id__in=sites) | Q(site_id__isnull=True))
