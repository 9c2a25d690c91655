"""Reminders rest for somebody, for a reason; and how a site reminds at all."""

from datetime import date

from django.db import transaction
from django.db.models import QuerySet
from django.utils import timezone
from django.utils.translation import gettext

from keyctl.accounts.models import User
from keyctl.audit.services import record
from keyctl.desk.access import PAUSERS, RULERS
from keyctl.desk.models import DuePause, DueRules
from keyctl.keys.models import Holder
from keyctl.leavers.services import refuse_pause
from keyctl.lib.errors import Refused
from keyctl.places.access import require_role
from keyctl.places.models import Site


@transaction.atomic
def pause_reminders(*, actor: User, holder: Holder, until: date, reason: str) -> DuePause:
    """Through that day nobody is reminded by itself; an earlier pause ends with the new one."""
    require_role(actor, holder.site, *PAUSERS)
    refuse_pause(until, reason)
    Holder.objects.select_for_update().get(pk=holder.pk)
    _open(holder).update(ended_at=timezone.now(), ended_by=actor)
    pause = DuePause.objects.create(holder=holder, until=until, reason=reason.strip()[:200], made_by=actor)
    sentence = f"paused reminders to {holder} until {until:%-d %b %Y}"
    _tell(actor, holder, "reminders.paused", sentence, reason=pause.reason)
    return pause


@transaction.atomic
def end_pause(*, actor: User, holder: Holder) -> Holder:
    require_role(actor, holder.site, *PAUSERS)
    if not _open(holder).update(ended_at=timezone.now(), ended_by=actor):
        raise Refused(gettext("Reminders to {holder} are not paused.").format(holder=holder))
    _tell(actor, holder, "reminders.pause_ended", f"let reminders to {holder} go on")
    return holder


@transaction.atomic
def set_due_rules(*, actor: User, site: Site, **facts: int | bool) -> DueRules:
    """``is_on``, ``lead_days``, ``repeat_days``, ``tell_desk_after``, ``stop_after``."""
    require_role(actor, site, *RULERS)
    if facts["tell_desk_after"] > facts["stop_after"]:
        raise Refused(gettext("The desk is told while reminders still go out: not after the last of them."))
    rules, _ = DueRules.objects.update_or_create(site=site, defaults=facts)
    words = f"every {rules.repeat_days} days, {rules.stop_after} times" if rules.is_on else "not at all"
    record(
        actor=actor,
        verb="reminders.rules_set",
        sentence=f"set how holders at {site} are reminded of due keys: {words}",
        site_id=site.pk,
        subjects=[site],
    )
    return rules


def _open(holder: Holder) -> QuerySet[DuePause]:
    return DuePause.objects.filter(holder=holder, ended_at__isnull=True)


def _tell(actor: User, holder: Holder, verb: str, sentence: str, **detail: str) -> None:
    record(
        actor=actor, verb=verb, sentence=sentence, site_id=holder.site_id, subjects=[holder], detail=detail
    )
