"""Taking a core for a change: the row is locked and must be the version that was looked at."""

from collections.abc import Iterable, Sequence
from uuid import UUID

from django.utils.translation import gettext as _

from keyctl.accounts.models import User
from keyctl.audit.selectors import by_whom
from keyctl.cores.disputes import refuse_disputed
from keyctl.cores.models import Core
from keyctl.lib.errors import Conflict
from keyctl.lib.holding import hold
from keyctl.places.access import require_role
from keyctl.places.roles import Role


def lock_core(actor: User, pk: UUID, version: int, roles: Sequence[Role] = (Role.LOCKSMITH,)) -> Core:
    core = locked_cores([pk])[pk]
    require_role(actor, core.site, *roles)
    refuse_disputed(core)
    refuse_stale(core, version)
    return core


def locked_cores(pks: Iterable[UUID]) -> dict[UUID, Core]:
    """The cores with their places, held until the transaction ends and locked in one fixed order."""
    wanted = set(pks)
    hold(Core.objects.filter(pk__in=wanted))
    return {core.pk: core for core in Core.objects.with_places().filter(pk__in=wanted)}


def refuse_stale(core: Core, version: int) -> None:
    if core.version != version:
        raise Conflict(
            _("Core {core} has changed since you looked at it{by_whom}. Look again, then decide.").format(
                core=core, by_whom=by_whom(core)
            )
        )
