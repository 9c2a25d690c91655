"""Taking a core for a change: the row is locked and must be the version that was looked at."""

from collections.abc import Iterable, Sequence
from uuid import UUID

from django.utils.translation import gettext as _

from keyctl.accounts.models import User
from keyctl.audit.selectors import by_whom
from keyctl.cores.disputes import refuse_disputed
from keyctl.cores.models import Core
from keyctl.lib.errors import Conflict
from keyctl.lib.holding import hold, hold_one
from keyctl.lib.prepared import Prepared, Slot
from keyctl.places.access import require_role
from keyctl.places.roles import Role

_WITH_PLACES = Prepared(lambda: Core.objects.with_places().filter(pk=Slot("pk")))


def lock_core(actor: User, pk: UUID, version: int, roles: Sequence[Role] = (Role.LOCKSMITH,)) -> Core:
    core = locked_cores([pk])[pk]
    require_role(actor, core.site, *roles)
    refuse_disputed(core)
    refuse_stale(core, version)
    return core


def locked_cores(pks: Iterable[UUID]) -> dict[UUID, Core]:
    """The cores with their places, held until the transaction ends and locked in one fixed order."""
    wanted = set(pks)
    if len(wanted) == 1:
        return _locked_one(*wanted)
    hold(Core.objects.filter(pk__in=wanted))
    return {core.pk: core for core in Core.objects.with_places().filter(pk__in=wanted)}


def _locked_one(pk: UUID) -> dict[UUID, Core]:
    hold_one(Core(pk=pk))
    return {core.pk: core for core in _WITH_PLACES.rows(pk=pk)}


def refuse_stale(core: Core, version: int) -> None:
    if core.version != version:
        raise Conflict(
            _("Core {core} has changed since you looked at it{by_whom}. Look again, then decide.").format(
                core=core, by_whom=by_whom(core)
            )
        )
