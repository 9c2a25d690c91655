"""Taking a core for a change: the row is locked and must be the version that was looked at."""

from collections.abc import Iterable
from uuid import UUID

from keyctl.accounts.models import User
from keyctl.audit.selectors import history_of
from keyctl.cores.disputes import refuse_disputed
from keyctl.cores.models import Core
from keyctl.lib.errors import Conflict
from keyctl.places.access import require_role
from keyctl.places.roles import Role


def lock_core(actor: User, pk: UUID, version: int) -> Core:
    core = locked_cores([pk])[pk]
    require_role(actor, core.site, Role.LOCKSMITH)
    refuse_disputed(core)
    refuse_stale(core, version)
    return core


def locked_cores(pks: Iterable[UUID]) -> dict[UUID, Core]:
    """The cores with their places, held until the transaction ends and locked in one fixed order.

    Locked first, read afterwards: in one query PostgreSQL gives whoever had to wait the joined places from
    before the wait.
    """
    wanted = set(pks)
    list(Core.objects.select_for_update().filter(pk__in=wanted).order_by("pk").values_list("pk"))
    return {core.pk: core for core in Core.objects.with_places().filter(pk__in=wanted)}


def refuse_stale(core: Core, version: int) -> None:
    if core.version != version:
        raise Conflict(
            f"Core {core} has changed since you looked at it{_by_whom(core)}. Look again, then decide."
        )


def _by_whom(core: Core) -> str:
    last = history_of(core).first()
    return f": {last.actor_name} {last.sentence}" if last else ""
