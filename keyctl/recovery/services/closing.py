from collections.abc import Collection

from django.db import transaction
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from keyctl.accounts.models import User
from keyctl.lib.errors import Refused
from keyctl.lib.holding import save_next
from keyctl.orders.services import recovery_ended
from keyctl.recovery.access import WORKERS
from keyctl.recovery.models import ControlKeyCase
from keyctl.recovery.selectors import can_close
from keyctl.recovery.services.locking import Way, end_approval, locked_case, tell
from keyctl.recovery.services.wording import clean_words

TURNED = ("turned", gettext_lazy("An operating key turns it both ways, and the core is held fast."))
WAY_OUT = ("way-out", gettext_lazy("The door opens from the inside without a key, and it latches by itself."))
NEW_KEY = (
    "new-key",
    gettext_lazy("The new control key takes a core out, puts it back, and comes out of it."),
)
LOSS = (
    "loss",
    gettext_lazy("The security officer decided what happens to the cores that the lost key takes out."),
)
SCREW = ("screw", gettext_lazy("The screw in the shackle hole is tight, and the core does not move."))
LOCKS = ("locks", gettext_lazy("The shackle locks, holds when pulled, and opens again."))
FAST = ("fast", gettext_lazy("The cylinder is held fast by its screw, and its cam stands as before."))

CHECKS = {
    Way.DECODE: (NEW_KEY, TURNED, WAY_OUT, LOSS),
    Way.COPY: (NEW_KEY, TURNED, WAY_OUT, LOSS),
    Way.SHACKLE: (TURNED, SCREW, LOCKS),
    Way.NONE: (FAST, TURNED, WAY_OUT),
}


@transaction.atomic
def close_case(
    *, actor: User, case: ControlKeyCase, version: int, checks: Collection[str], outcome: str
) -> ControlKeyCase:
    case = locked_case(actor, case, version, *WORKERS)
    if not can_close(case):
        raise Refused(_("No new control key came of this case yet. Go on, or cancel it and say why."))
    if missing := [words for name, words in CHECKS[Way(case.way)] if name not in checks]:
        raise Refused(_("The case stays open: something was not tried yet."), reasons=missing)
    _end(actor, case, ControlKeyCase.State.CLOSED, outcome)
    sentence = f"closed the case of the lost control key of {case.system.code}"
    tell(actor, case, "closed", sentence, outcome=case.outcome, checks=sorted(checks))
    return case


@transaction.atomic
def cancel_case(*, actor: User, case: ControlKeyCase, version: int, outcome: str) -> ControlKeyCase:
    case = locked_case(actor, case, version, *WORKERS)
    _end(actor, case, ControlKeyCase.State.CANCELLED, outcome)
    sentence = f"cancelled the case of the lost control key of {case.system.code}"
    tell(actor, case, "cancelled", sentence, outcome=case.outcome)
    return case


def _end(actor: User, case: ControlKeyCase, state: ControlKeyCase.State, outcome: str) -> None:
    case.outcome = clean_words(outcome, case.system.format_id, missing=_("Say how it ended; others read it."))
    case.state, case.closed_by, case.closed_at = state, actor, timezone.now()
    end_approval(case)
    save_next(case, "outcome", "state", "closed_by", "closed_at")
    recovery_ended(actor=actor, site=case.site, system=case.system, has_key=state == case.State.CLOSED)
