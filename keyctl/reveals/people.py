"""Who is told."""

from keyctl.accounts.models import User
from keyctl.places.models import Membership, Site
from keyctl.places.roles import Role


def people_at(site: Site, *roles: Role) -> list[User]:
    """Who holds one of the roles and may sign in; each once."""
    held = Membership.objects.filter(site=site, role__in=roles, user__is_active=True)
    return list(User.objects.filter(pk__in=held.values("user")).order_by("pk"))
