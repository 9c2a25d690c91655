"""Who may read how the installation is guarded, and about which people."""

from collections.abc import Iterable
from dataclasses import dataclass

from django.core.exceptions import PermissionDenied

from keyctl.accounts.factors import has_second_factor
from keyctl.accounts.models import User
from keyctl.places.models import Membership, Site
from keyctl.places.roles import TRUSTED_WITH_SECRETS, Role

READERS = (Role.ADMINISTRATOR, Role.OFFICER, Role.AUDITOR)


@dataclass(frozen=True)
class Bare:
    """Somebody whose password alone lets them in."""

    name: str
    roles: str


def require_reader(actor: User) -> None:
    if not Site.objects.for_roles(actor, *READERS).exists():
        raise PermissionDenied


def without_factor(actor: User) -> list[Bare]:
    """At the reader's sites only: who works elsewhere is not their business."""
    rows = Membership.objects.filter(
        site__in=Site.objects.for_roles(actor, *READERS),
        role__in=TRUSTED_WITH_SECRETS,
        user__is_active=True,
    ).select_related("user", "site")
    held: dict[User, list[Membership]] = {}
    for row in rows.order_by("user__display_name", "site__code"):
        held.setdefault(row.user, []).append(row)
    return [Bare(str(user), _words(rows)) for user, rows in held.items() if not has_second_factor(user)]


def _words(rows: Iterable[Membership]) -> str:
    return ", ".join(f"{row.get_role_display()} at {row.site.code}" for row in rows)
