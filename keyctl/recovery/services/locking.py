"""Taking a case for a change: locked, still open, and the version that was looked at."""

from collections.abc import Sequence
from typing import Any

from django.db import models
from django.utils import timezone
from django.utils.translation import gettext as _

from keyctl.accounts.models import User
from keyctl.audit.selectors import by_whom
from keyctl.audit.services import record
from keyctl.lib.errors import Conflict, Refused
from keyctl.lib.holding import held
from keyctl.lib.language import in_sentence
from keyctl.places.access import require_role
from keyctl.places.roles import Role
from keyctl.recovery.models import ControlKeyCase
from keyctl.recovery.selectors import open_approval

Way = ControlKeyCase.Way


def locked_case(
    actor: User, case: ControlKeyCase, version: int, *roles: Role, way: Way | None = None
) -> ControlKeyCase:
    case = held(ControlKeyCase.objects.with_names(), case.pk)
    require_role(actor, case.site, *roles)
    if not case.is_open:
        raise Conflict(
            _("This case is {value} already. Nothing was changed.").format(
                value=in_sentence(case.get_state_display())
            )
        )
    if case.version != version:
        raise Conflict(
            _("The case has changed since you looked at it{by_whom}. Look again, then decide.").format(
                by_whom=by_whom(case)
            )
        )
    if way and case.way != way:
        raise Refused(
            _("This case goes another way: {value}.").format(value=in_sentence(case.get_way_display()))
        )
    return case


def end_approval(case: ControlKeyCase) -> None:
    """What was approved is no longer what stands there: the second person looks again."""
    if approval := open_approval(case):
        approval.lapsed_at = timezone.now()
        approval.save(update_fields=["lapsed_at"])


def tell(
    actor: User,
    case: ControlKeyCase,
    verb: str,
    sentence: str,
    subjects: Sequence[models.Model] = (),
    **detail: Any,
) -> None:
    record(
        actor=actor,
        verb=f"control_key.{verb}",
        sentence=sentence,
        site_id=case.site_id,
        subjects=[case, case.system, *subjects],
        detail=detail,
    )
