"""Taking a case for a change: locked, as it is now, and the version that was looked at."""

from collections.abc import Collection, Sequence
from typing import Any
from uuid import UUID

from django.db import models
from django.utils.translation import gettext as _

from keyctl.accounts.models import User
from keyctl.audit.models import EventSubject
from keyctl.audit.selectors import by_whom
from keyctl.audit.services import record
from keyctl.lib.errors import Conflict, Refused
from keyctl.lib.holding import held
from keyctl.lib.language import in_sentence
from keyctl.losses.models import LossCase
from keyctl.places.access import require_role
from keyctl.places.roles import Role

State = LossCase.State


def locked_case(
    actor: User,
    case: LossCase,
    version: int | None,
    *roles: Role,
    states: Collection[LossCase.State] = LossCase.UNFINISHED,
) -> LossCase:
    case = held(LossCase.objects.with_names(), case.pk)
    require_role(actor, case.site, *roles)
    if case.state not in states:
        raise Conflict(
            _("{case} is {value} now. Nothing was changed; look again.").format(
                case=case, value=in_sentence(case.get_state_display())
            )
        )
    if version is not None and case.version != version:
        raise Conflict(
            _("{case} has changed since you looked at it{by_whom}. Look again, then decide.").format(
                case=case, by_whom=by_whom(case)
            )
        )
    return case


def refuse_alone(actor: User, case: LossCase, what: str) -> None:
    """Where a master is concerned, who opened the case, or one that was joined to it, does not decide it."""
    if case.has_master and actor.pk in _openers(case):
        raise Refused(
            _(
                "You opened {case}, and a master or control key is concerned: another security officer "
                "{what}."
            ).format(case=case, what=what)
        )


def _openers(case: LossCase) -> set[UUID | None]:
    """History tells which cases were joined to which; those may have been joined before."""
    found, looked_at = [case], set[UUID]()
    openers = set[UUID | None]()
    while found:
        each = found.pop()
        looked_at.add(each.pk)
        openers.add(each.opened_by_id)
        joins = EventSubject.objects.filter(
            event__verb="loss.joined", kind=each._meta.label_lower, subject_id=each.pk
        )
        others = EventSubject.objects.filter(event__in=joins.values("event"), kind=each._meta.label_lower)
        found += LossCase.objects.filter(pk__in=others.values("subject_id")).exclude(pk__in=looked_at)
    return openers


def tell(
    actor: User,
    case: LossCase,
    verb: str,
    sentence: str,
    subjects: Sequence[models.Model] = (),
    **detail: Any,
) -> None:
    record(
        actor=actor,
        verb=f"loss.{verb}",
        sentence=sentence,
        site_id=case.site_id,
        subjects=[case, *subjects],
        detail=detail,
    )
