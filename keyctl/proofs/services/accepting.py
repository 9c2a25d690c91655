"""An officer lets a finding be, with a reason and an end."""

from datetime import date, timedelta

from django.db import IntegrityError, transaction
from django.utils import timezone
from django.utils.translation import gettext as _

from keyctl.accounts.models import User
from keyctl.audit.services import record
from keyctl.cores.models import Core
from keyctl.cores.proof import Kind
from keyctl.lib.errors import Conflict, Refused
from keyctl.lib.language import in_english
from keyctl.places.access import require_role
from keyctl.places.roles import Role
from keyctl.proofs.models import Acceptance, Finding
from keyctl.proofs.selectors import acceptances_of

LONGEST_DAYS = 366


@transaction.atomic
def accept_finding(*, actor: User, finding: Finding, reason: str, until: date) -> Acceptance:
    """The finding is known and let be until a day, or until the core is pinned anew."""
    require_role(actor, finding.site, Role.OFFICER)
    core = Core.objects.select_for_update().get(pk=finding.core_id)
    _refuse(finding, core, reason, until)
    acceptance = _store(
        Acceptance(
            core=core,
            symbol=finding.symbol,
            kind=finding.kind,
            pinned_at=finding.pinned_at,
            reason=reason.strip(),
            accepted_by=actor,
            accepted_on=timezone.localdate(),
            until=until,
        )
    )
    record(
        actor=actor,
        verb="finding.accepted",
        sentence=(
            f"accepted until {until:%-d %b %Y} that {finding.symbol} of {finding.symbol.system.code} "
            f"{in_english(Kind(finding.kind).label)}, core {core}: {acceptance.reason}"
        ),
        site_id=core.site_id,
        subjects=[core, finding.symbol],
        detail={"kind": finding.kind, "until": until.isoformat()},
    )
    return acceptance


@transaction.atomic
def end_acceptance(*, actor: User, acceptance: Acceptance) -> Acceptance:
    """From now on the finding is open again."""
    found = Acceptance.objects.select_for_update(of=("self",)).select_related("core__site", "symbol")
    acceptance = found.get(pk=acceptance.pk)
    require_role(actor, acceptance.core.site, Role.OFFICER)
    if acceptance.ended_at is not None:
        raise Conflict(_("Somebody has ended this acceptance already."))
    acceptance.ended_by, acceptance.ended_at = actor, timezone.now()
    acceptance.save(update_fields=["ended_by", "ended_at"])
    record(
        actor=actor,
        verb="finding.reopened",
        sentence=f"no longer accepts that {acceptance.symbol} {in_english(Kind(acceptance.kind).label)}, "
        f"core {acceptance.core}",
        site_id=acceptance.core.site_id,
        subjects=[acceptance.core, acceptance.symbol],
        detail={"kind": acceptance.kind},
    )
    return acceptance


def _refuse(finding: Finding, core: Core, reason: str, until: date) -> None:
    today = timezone.localdate()
    if core.pinned_at != finding.pinned_at:
        raise Conflict(
            _("Core {core} was pinned anew since this proof; prove it again first.").format(core=core)
        )
    if not reason.strip():
        raise Refused(_("Say why this may stay as it is."))
    if not today <= until <= today + timedelta(days=LONGEST_DAYS):
        raise Refused(_("Choose an end from today to a year ahead; then it is looked at again."))
    if acceptances_of(finding).exists():
        raise Conflict(_("This finding is accepted already."))


def _store(acceptance: Acceptance) -> Acceptance:
    try:
        with transaction.atomic():
            acceptance.save(force_insert=True)
    except IntegrityError:
        raise Conflict(_("Somebody has just accepted this finding.")) from None
    return acceptance
