"""Taking a core for a change: the row is locked and must be the version that was looked at."""

from collections.abc import Iterable, Sequence
from typing import TypeVar
from uuid import UUID

from django.db import connection
from django.db.models import Model, QuerySet
from django.utils.translation import gettext as _

from keyctl.accounts.models import User
from keyctl.audit.selectors import history_of
from keyctl.cores.disputes import refuse_disputed
from keyctl.cores.models import Core
from keyctl.lib.errors import Conflict
from keyctl.places.access import require_role
from keyctl.places.roles import Role

M = TypeVar("M", bound=Model)


def lock_core(actor: User, pk: UUID, version: int, roles: Sequence[Role] = (Role.LOCKSMITH,)) -> Core:
    core = locked_cores([pk])[pk]
    require_role(actor, core.site, *roles)
    refuse_disputed(core)
    refuse_stale(core, version)
    return core


def locked_cores(pks: Iterable[UUID]) -> dict[UUID, Core]:
    """The cores with their places, held until the transaction ends and locked in one fixed order.

    Locked first, read afterwards: in one query PostgreSQL gives whoever had to wait the joined places from
    before the wait.
    """
    wanted = set(pks)
    hold(Core.objects.filter(pk__in=wanted))
    return {core.pk: core for core in Core.objects.with_places().filter(pk__in=wanted)}


def hold(rows: QuerySet[M]) -> None:
    """Lock the rows in a fixed order. Where only one transaction writes at a time there is nothing to ask."""
    if connection.features.has_select_for_update:
        list(rows.select_for_update().order_by("pk").values_list("pk"))


def refuse_stale(core: Core, version: int) -> None:
    if core.version != version:
        raise Conflict(
            _("Core {core} has changed since you looked at it{by_whom}. Look again, then decide.").format(
                core=core, by_whom=_by_whom(core)
            )
        )


def _by_whom(core: Core) -> str:
    last = history_of(core).first()
    return f": {last.actor_name} {last.sentence}" if last else ""
