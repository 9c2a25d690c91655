"""Taking a rotation for a change: locked, as it is now, and the version that was looked at."""

from collections.abc import Collection, Sequence
from typing import Any

from django.db import models
from django.db.models import F
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from keyctl.accounts.models import User
from keyctl.audit.services import record
from keyctl.lib.errors import Conflict
from keyctl.lib.holding import held
from keyctl.lib.language import in_sentence
from keyctl.lib.numbers import as_number
from keyctl.orders.models import WorkOrder
from keyctl.places.access import require_role
from keyctl.rotations.access import WORKERS
from keyctl.rotations.models import Rotation

State = Rotation.State


def locked_rotation(
    actor: User,
    rotation: Rotation,
    version: int | None = None,
    *,
    states: Collection[Rotation.State] = Rotation.RUNNING,
) -> Rotation:
    _hold_parts(rotation)
    found = held(Rotation.objects.with_names(), rotation.pk)
    require_role(actor, found.site, *WORKERS)
    if found.state not in states:
        raise Conflict(
            _("{found} is {value}. Nothing was changed.").format(
                found=found, value=in_sentence(found.get_state_display())
            )
        )
    if version is not None and found.version != version:
        raise Conflict(
            _("{found} has changed since you looked at it. Look again, then decide.").format(found=found)
        )
    return found


def _hold_parts(rotation: Rotation) -> None:
    """Orders before the rotation, as a swap takes them: the two never wait in a ring."""
    parts = WorkOrder.objects.unfinished().filter(part_of__rotation=rotation.pk)
    list(parts.select_for_update(of=("self",)).order_by("pk").values_list("pk"))


def plan_is_stale(rotation: Rotation) -> None:
    """A plan that is being worked out at this moment no longer fits."""
    Rotation.objects.filter(pk=rotation.pk).update(plan_version=F("plan_version") + 1)
    rotation.plan_version += 1


def tell(
    actor: User,
    rotation: Rotation,
    verb: str,
    sentence: str,
    things: Sequence[models.Model] = (),
    **detail: Any,
) -> None:
    record(
        actor=actor,
        verb=f"rotation.{verb}",
        sentence=sentence,
        site_id=rotation.site_id,
        subjects=[rotation, *things],
        detail=detail,
    )


def doors_counted(number: int) -> str:
    return ngettext("{count} door", "{count} doors", number).format(count=as_number(number))


def cores_counted(number: int) -> str:
    return ngettext("{count} core", "{count} cores", number).format(count=as_number(number))


def counted(number: int, noun: str) -> str:
    """For history, which is kept in one language."""
    return f"{number:,} {noun}{'' if number == 1 else 's'}"
