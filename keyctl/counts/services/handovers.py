"""A new custodian: the cabinet is counted, then both sign; the count is opened by the change itself."""

from collections.abc import Mapping, Sequence
from uuid import UUID

from django.db import transaction
from django.db.models import Model
from django.utils import timezone
from django.utils.translation import gettext as _

from keyctl.accounts.models import User
from keyctl.audit.services import record
from keyctl.counts.access import EXCUSERS
from keyctl.counts.models import CabinetHandover, Count, CountRule
from keyctl.counts.selectors.rules import rule_for
from keyctl.counts.services.numbering import next_number
from keyctl.keys.models import Cabinet, KeyCopy
from keyctl.lib.errors import Conflict, Refused
from keyctl.lib.holding import held
from keyctl.places.access import require_role

Scope, State = Count.Scope, Count.State


def custodian_changed(actor: User, cabinet: Cabinet, before: User | None) -> None:
    """Told by keys in the transaction of the change: where the rule says so, the cabinet is to be counted."""
    rule = rule_for(cabinet.site, CountRule.Subject.CABINETS)
    if rule is None or not rule.on_new_custodian:
        return
    count = _forced_count(cabinet, rule)
    handover = CabinetHandover.objects.create(
        cabinet=cabinet, count=count, giver=before, taker=cabinet.custodian, made_by=actor
    )
    record(
        actor=actor,
        verb="count.forced",
        sentence=f"count {count.number} of {cabinet} is due: handed from {before or 'nobody'} "
        f"to {cabinet.custodian or 'nobody'}",
        site_id=cabinet.site_id,
        subjects=[handover, count, cabinet],
        detail={"number": count.number},
    )


@transaction.atomic
def sign_handover(*, actor: User, handover: CabinetHandover) -> CabinetHandover:
    """Each signs under their own name, and only when it is counted: what is counted is what passes."""
    handover = _locked(handover)
    if actor.pk not in {handover.giver_id, handover.taker_id}:
        raise Refused(
            _("Only the old and the new custodian of {cabinet} sign.").format(cabinet=handover.cabinet)
        )
    if handover.count.state != State.CLOSED:
        raise Refused(
            _("{cabinet} is not counted yet. Close count {number} first.").format(
                cabinet=handover.cabinet, number=handover.count.number
            )
        )
    side = "giver" if actor.pk == handover.giver_id else "taker"
    if getattr(handover, f"{side}_signed_at"):
        raise Conflict(_("You have signed this already."))
    setattr(handover, f"{side}_signed_at", timezone.now())
    _finish(handover)
    handover.save()
    words = "gave away" if side == "giver" else "took over"
    _tell(actor, handover, "signed", f"signed that they {words} {handover.cabinet}")
    return handover


@transaction.atomic
def excuse_giver(*, actor: User, handover: CabinetHandover, excuse: str) -> CabinetHandover:
    """The old custodian has left or is ill; an officer says why their signature is missing."""
    handover = _locked(handover)
    require_role(actor, handover.cabinet.site, *EXCUSERS)
    if handover.giver is None or handover.giver_signed_at:
        raise Refused(_("No signature of an old custodian is missing here."))
    if actor.pk in {handover.giver_id, handover.taker_id}:
        raise Refused(
            _("Whoever gives or takes the cabinet does not excuse the other. Another officer does.")
        )
    if not excuse.strip():
        raise Refused(_("Say why the old custodian does not sign."))
    handover.excused_by, handover.excuse = actor, excuse.strip()
    _finish(handover)
    handover.save()
    _tell(actor, handover, "excused", f"excused {handover.giver} from signing for {handover.cabinet}")
    return handover


def finish_handovers(count: Count) -> None:
    """A handover from nobody to nobody has nothing to sign; others wait for their signatures."""
    for handover in count.handovers.filter(done_at__isnull=True):
        handover.count = count
        _finish(handover)
        handover.save(update_fields=["done_at"])


def blocked_copies(copies: Sequence[KeyCopy], _on_request: Model | None = None) -> Mapping[UUID, str]:
    """For ``keys.reservations``: nothing leaves a cabinet whose count is forced, where the rule says so."""
    cabinets = {copy.cabinet_id for copy in copies if copy.cabinet_id}
    waiting = CabinetHandover.objects.filter(
        cabinet__in=cabinets, done_at__isnull=True, count__rule__blocks_issuing=True
    )
    open_ones = {each.cabinet_id: each for each in waiting.select_related("cabinet", "count")}
    return {
        copy.pk: _why_blocked(open_ones[copy.cabinet_id]) for copy in copies if copy.cabinet_id in open_ones
    }


def _why_blocked(handover: CabinetHandover) -> str:
    number, cabinet = handover.count.number, handover.cabinet
    if handover.count.state == State.CLOSED:
        return _(
            "{cabinet} has a new custodian, and the handover is not signed by both yet. Sign it first."
        ).format(cabinet=cabinet)
    return _(
        "{cabinet} has a new custodian and is to be counted first (count {number}). Close that count."
    ).format(cabinet=cabinet, number=number)


def _forced_count(cabinet: Cabinet, rule: CountRule) -> Count:
    """The cabinet's open count becomes the forced one; there is never a second."""
    number, today = next_number(cabinet.site), timezone.localdate()
    found = Count.objects.filter(cabinet=cabinet).open().first()
    if found is None:
        return Count.objects.create(
            site=cabinet.site,
            number=number,
            scope=Scope.CABINET,
            cabinet=cabinet,
            reason=Count.Reason.CUSTODIAN,
            rule=rule,
            due_on=today,
        )
    found.reason, found.rule = Count.Reason.CUSTODIAN, rule
    found.due_on = min(found.due_on or today, today)
    found.save(update_fields=["reason", "rule", "due_on"])
    return found


def _finish(handover: CabinetHandover) -> None:
    gave = handover.giver is None or handover.giver_signed_at or handover.excused_by
    took = handover.taker is None or handover.taker_signed_at
    if handover.count.state == State.CLOSED and gave and took:
        handover.done_at = timezone.now()


def _locked(handover: CabinetHandover) -> CabinetHandover:
    named = CabinetHandover.objects.select_related("cabinet__site", "count", "giver", "taker")
    fresh = held(named, handover.pk)
    if fresh.done_at:
        raise Conflict(_("{cabinet} is handed over already.").format(cabinet=fresh.cabinet))
    return fresh


def _tell(actor: User, handover: CabinetHandover, verb: str, sentence: str) -> None:
    record(
        actor=actor,
        verb=f"handover.{verb}",
        sentence=sentence,
        site_id=handover.cabinet.site_id,
        subjects=[handover, handover.count, handover.cabinet],
        detail={"excuse": handover.excuse} if handover.excuse else {},
    )
