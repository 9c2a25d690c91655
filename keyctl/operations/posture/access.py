"""Who may read how the installation is guarded, and about which people."""

from collections.abc import Iterable
from dataclasses import dataclass

from django.utils.translation import gettext as _

from keyctl.accounts.factors import with_second_factor
from keyctl.accounts.models import User
from keyctl.places.access import require_some
from keyctl.places.models import Membership, Site
from keyctl.places.roles import TRUSTED_WITH_SECRETS, Role

READERS = (Role.ADMINISTRATOR, Role.OFFICER, Role.AUDITOR)


@dataclass(frozen=True)
class Bare:
    """Somebody whose password alone lets them in."""

    name: str
    roles: str


def require_reader(actor: User) -> None:
    require_some(Site.objects.for_roles(actor, *READERS))


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
    protected = with_second_factor(held)
    return [Bare(str(user), _words(rows)) for user, rows in held.items() if user.pk not in protected]


def _words(rows: Iterable[Membership]) -> str:
    return ", ".join(
        _("{role} at {site}").format(role=row.get_role_display(), site=row.site.code) for row in rows
    )
