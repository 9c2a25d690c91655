from django.db import transaction
from django.utils.translation import gettext as _

from keyctl.accounts.models import User
from keyctl.lib.errors import Conflict, Refused
from keyctl.lib.holding import save_next
from keyctl.recovery.access import APPROVERS
from keyctl.recovery.models import ControlApproval, ControlKeyCase
from keyctl.recovery.selectors import is_ready_to_approve, open_approval
from keyctl.recovery.services.locking import locked_case, tell


@transaction.atomic
def approve_control_key(*, actor: User, case: ControlKeyCase, version: int) -> ControlApproval:
    """The second person's yes to one new control key. Nobody gives it to their own work."""
    case = locked_case(actor, case, version, *APPROVERS)
    _refuse(actor, case)
    approval = ControlApproval.objects.create(case=case, case_opened_by=case.opened_by, approved_by=actor)
    save_next(case)
    what = f"copying {case.symbol} onto one control blank" if case.symbol else "showing its cuts once"
    tell(actor, case, "approved", f"approved the new control key of {case.system.code}: {what}")
    return approval


def _refuse(actor: User, case: ControlKeyCase) -> None:
    if actor == case.opened_by:
        raise Refused(_("You opened this case. Another security officer approves it."))
    if case.readings.filter(read_by=actor).exists():
        raise Refused(_("You read one of the cores yourself. Another security officer approves it."))
    if not is_ready_to_approve(case):
        raise Refused(_("There is nothing to approve yet: the steps before are not finished."))
    if approval := open_approval(case):
        raise Conflict(
            _("{approved_by} has approved it already. It waits for the locksmith.").format(
                approved_by=approval.approved_by
            )
        )
