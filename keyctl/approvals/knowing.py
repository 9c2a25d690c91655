"""Which doors a person may know of when they ask for keys; any other is as if it did not exist.

At a site where they hold a role: ordinary and restricted doors. Critical ones where they work with the
estate, and where they themselves or somebody of their department hold a key to it; a site may be stricter
or freer (``RequestSettings.critical_doors``).
"""

from django.db.models import Exists, OuterRef, Q, QuerySet

from keyctl.accounts.models import User
from keyctl.approvals.custom import settings_of
from keyctl.approvals.models import RequestSettings
from keyctl.cores.models import Turn
from keyctl.keys.models import Holder, KeyCopy
from keyctl.places.access import has_role
from keyctl.places.models import Door, DoorQuerySet, Membership, Site
from keyctl.places.roles import STAFF

Critical = RequestSettings.Critical


def known_doors(actor: User, site: Site) -> DoorQuerySet:
    """The doors of a site that the actor may ask for."""
    if not Membership.objects.filter(user=actor, site=site).exists():
        return Door.objects.none()
    doors = Door.objects.filter(floor__building__site=site)
    critical = settings_of(site).critical_doors
    if critical == Critical.EVERYBODY or has_role(actor, site, *STAFF):
        return doors
    usual = ~Q(door_class=Door.DoorClass.CRITICAL)
    return doors.filter(usual | _opened_by(_circle(actor, site)) if critical == Critical.HELD else usual)


def _circle(actor: User, site: Site) -> QuerySet[Holder]:
    """The actor as a holder of keys anywhere, and the holders of their departments at the site."""
    own = Holder.objects.filter(Q(user=actor) | Q(person__user=actor), is_active=True)
    named = own.values_list("department", "person__department")
    departments = {name for row in named for name in row if name}
    colleagues = Q(department__in=departments) | Q(person__department__in=departments)
    return Holder.objects.filter(Q(pk__in=own.values("pk")) | Q(colleagues, site=site, is_active=True))


def _opened_by(holders: QuerySet[Holder]) -> Exists:
    """Asked door by door: a holder of a top key opens more than one would list."""
    held = KeyCopy.objects.filter(state=KeyCopy.State.HELD, holder__in=holders)
    return Exists(
        Turn.objects.filter(
            operates=True, core__housing__door=OuterRef("pk"), symbol__in=held.values("symbol")
        )
    )
