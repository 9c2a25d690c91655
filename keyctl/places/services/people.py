"""Who holds which role, and who decides requests for a building."""

from django.db import transaction
from django.utils.translation import gettext as _

from keyctl.accounts.models import User
from keyctl.accounts.services import make_first_code
from keyctl.audit.services import record
from keyctl.lib.errors import Refused
from keyctl.lib.language import in_english
from keyctl.places.access import require_role
from keyctl.places.models import Building, BuildingManager, Membership, Site
from keyctl.places.roles import Role


@transaction.atomic
def grant_role(*, actor: User, user: User, site: Site, role: Role) -> Membership:
    require_role(actor, site, Role.ADMINISTRATOR)
    membership, is_new = Membership.objects.get_or_create(user=user, site=site, role=role)
    if is_new:
        record(
            actor=actor,
            verb="role.granted",
            sentence=f"made {user} {in_english(role.label).lower()} at {site}",
            site_id=site.pk,
            subjects=[user],
        )
    return membership


@transaction.atomic
def add_person(
    *, actor: User, site: Site, username: str, display_name: str, role: Role, email: str = ""
) -> tuple[User, str]:
    """A new person without a password, and the code by which they set one: shown once, good for one use."""
    require_role(actor, site, Role.ADMINISTRATOR)
    if User.objects.filter(username=username).exists():
        raise Refused(
            _("Somebody signs in as {username} already; choose another sign-in name.").format(
                username=username
            )
        )
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
        raise Refused(
            _("Nobody at {site} signs in as {username}; add the person first.").format(
                site=building.site, username=username
            )
        )
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
