"""Another role for a person who is here, and the end of one."""

from django.db import transaction
from django.db.models import Count, Q
from django.utils.translation import gettext as _

from keyctl.accounts.models import User
from keyctl.audit.services import record
from keyctl.lib.errors import Refused
from keyctl.lib.language import in_english
from keyctl.places.access import require_role
from keyctl.places.models import BuildingManager, Membership, Site
from keyctl.places.roles import Role
from keyctl.places.services.adding import add_site
from keyctl.places.services.people import grant_role


@transaction.atomic
def open_site(*, actor: User, code: str, name: str) -> Site:
    """Who administers every site administers this one too: what belongs to no site, as people do, is theirs
    to keep, and nobody takes that from them by adding one."""
    everywhere = _administrators_of_every_site()
    site = add_site(actor=actor, code=code, name=name)
    for user in everywhere:
        grant_role(actor=actor, user=user, site=site, role=Role.ADMINISTRATOR)
    return site


def _administrators_of_every_site() -> list[User]:
    held = Count("memberships__site", filter=Q(memberships__role=Role.ADMINISTRATOR), distinct=True)
    people = User.objects.filter(is_active=True).annotate(held=held).order_by("pk")
    return list(people.filter(held=Site.objects.count(), held__gt=0))


@transaction.atomic
def give_role(*, actor: User, site: Site, username: str, role: Role) -> Membership:
    """To somebody who signs in already; who is new comes by ``add_person``."""
    require_role(actor, site, Role.ADMINISTRATOR)
    user = User.objects.filter(username=username, is_active=True).first()
    if user is None or user.memberships.filter(role=Role.INTEGRATION).exists():
        raise Refused(_("Nobody signs in as {name}; add the person first.").format(name=username))
    if user.memberships.filter(site=site, role=role).exists():
        raise Refused(_("{person} holds this role at {site} already.").format(person=user, site=site))
    return grant_role(actor=actor, user=user, site=site, role=role)


@transaction.atomic
def end_role(*, actor: User, membership: Membership) -> None:
    """From the next click on the pages of the role are shut; what the person did stays in history."""
    user, site, role = membership.user, membership.site, Role(membership.role)
    require_role(actor, site, Role.ADMINISTRATOR)
    # Of two who end each other's, the second waits and finds nobody else.
    holders = Membership.objects.select_for_update().filter(site=site, role=role)
    others = [each for each in holders.select_related("user").order_by("pk") if each.pk != membership.pk]
    if role is Role.ADMINISTRATOR and not any(each.user.is_active for each in others):
        raise Refused(
            _("{person} is the last administrator of {site}; make somebody else one first.").format(
                person=user, site=site
            )
        )
    if role is Role.MANAGER:
        BuildingManager.objects.filter(user=user, building__site=site).delete()
    membership.delete()
    record(
        actor=actor,
        verb="role.ended",
        sentence=f"ended that {user} is {in_english(role.label).lower()} at {site}",
        site_id=site.pk,
        subjects=[user],
    )
