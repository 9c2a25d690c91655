"""A holder says that they lost a key; the desk confirms it, and only then it is lost."""

from typing import Any

from django.db import transaction
from django.utils import timezone
from django.utils.translation import gettext as _

from keyctl.accounts.models import User
from keyctl.audit.services import record
from keyctl.keys.models import KeyCopy
from keyctl.keys.services import report_lost
from keyctl.lib.errors import Conflict, Refused
from keyctl.lib.holding import held
from keyctl.lib.language import in_english, in_sentence
from keyctl.losses.access import REPORTERS
from keyctl.losses.models import LossReport, LostCopy
from keyctl.losses.services.noting import add_note
from keyctl.losses.services.telling import tell_reported
from keyctl.places.access import require_role
from keyctl.recovery.services.wording import refuse_cuts

State = LossReport.State
FACTS = ("where", "last_seen", "police_number")


@transaction.atomic
def report_own_loss(
    *,
    actor: User,
    copy: KeyCopy,
    where: str = "",
    last_seen: str = "",
    police_number: str = "",
    told: str = "",
    note: str = "",
) -> LossReport:
    """From the holder's own page. The key counts as held until the desk has looked into it."""
    copy = held(KeyCopy.objects.with_names(), copy.pk)
    if copy.holder is None or copy.holder.user_id != actor.pk:
        raise Refused(_("This key is not written down as yours. Tell the desk about it."))
    if LossReport.objects.filter(copy=copy, state=State.WAITING).exists():
        raise Conflict(_("You have reported this key already. The desk looks into it and calls you."))
    for text in (where, last_seen, told, note):
        refuse_cuts(text, copy.symbol.system.format_id)
    report = LossReport.objects.create(
        copy=copy,
        holder=copy.holder,
        reported_by=actor,
        where=where.strip(),
        last_seen=last_seen.strip(),
        police_number=police_number.strip(),
        told=told.strip(),
        note=note.strip(),
    )
    _tell(actor, report, "reported", f"says that copy {copy} is lost; the desk is to confirm it")
    tell_reported(report)
    return report


@transaction.atomic
def confirm_report(*, actor: User, report: LossReport, answer: str = "") -> LossReport:
    """The copy is lost now; its case takes over what the holder told."""
    report = _locked(actor, report)
    report_lost(actor=actor, copy=report.copy, note=report.note)
    lost = LostCopy.objects.select_related("case__site").get(copy=report.copy, found_at__isnull=True)
    for name in FACTS:
        setattr(lost, name, getattr(report, name))
    lost.save(update_fields=FACTS)
    report.case = lost.case
    _decide(actor, report, State.CONFIRMED, answer)
    if report.told:
        add_note(actor=actor, case=lost.case, text=f"By the holder: {report.told}", kind="told")
    _tell(actor, report, "confirmed", f"confirmed that copy {report.copy} is lost: {in_english(lost.case)}")
    return report


@transaction.atomic
def refuse_report(*, actor: User, report: LossReport, answer: str) -> LossReport:
    """No loss: the key turned up, or it was another one."""
    report = _locked(actor, report)
    if not answer.strip():
        raise Refused(_("Say what became of the key; the holder reads it."))
    _decide(actor, report, State.REFUSED, answer)
    _tell(actor, report, "refused", f"found that copy {report.copy} is not lost: {report.answer}"[:400])
    return report


def _locked(actor: User, report: LossReport) -> LossReport:
    rows = LossReport.objects.select_related("copy__site", "copy__symbol__system", "holder", "reported_by")
    report = held(rows, report.pk)
    require_role(actor, report.copy.site, *REPORTERS)
    if report.state != State.WAITING:
        raise Conflict(
            _("This report is {value} already. Look at it again.").format(
                value=in_sentence(report.get_state_display())
            )
        )
    if report.reported_by_id == actor.pk:
        raise Refused(_("You reported this loss yourself. Somebody else at the desk confirms it."))
    return report


def _decide(actor: User, report: LossReport, state: LossReport.State, answer: str) -> None:
    refuse_cuts(answer, report.copy.symbol.system.format_id)
    report.state, report.decided_by, report.decided_at = state, actor, timezone.now()
    report.answer = answer.strip()
    report.save(update_fields=["state", "decided_by", "decided_at", "answer", "case"])


def _tell(actor: User, report: LossReport, verb: str, sentence: str) -> None:
    subjects: list[Any] = [report.copy, report.copy.symbol, report.holder]
    record(
        actor=actor,
        verb=f"loss.report_{verb}",
        sentence=sentence,
        site_id=report.copy.site_id,
        subjects=[*subjects, report.case] if report.case else subjects,
    )
