from dataclasses import dataclass, field

from django.db import transaction
from django.utils import timezone
from django.utils.translation import gettext as _

from keyctl.accounts.fresh import FreshSignIn
from keyctl.accounts.models import User
from keyctl.lib.errors import Refused
from keyctl.lib.holding import save_next
from keyctl.recovery.access import WORKERS
from keyctl.recovery.models import ControlApproval, ControlBlank, ControlKeyCase
from keyctl.recovery.selectors import blanks_for, open_approval
from keyctl.recovery.services.blanks import locked_blank, take_blank
from keyctl.recovery.services.choosing import refuse_key
from keyctl.recovery.services.locking import Way, locked_case, tell
from keyctl.recovery.services.wanting import shown_for
from keyctl.reveals.services import reveal_one
from keyctl.reveals.things import Secret
from keyctl.systems.models import KeySymbol
from keyctl.systems.services import bitting_of


@dataclass(frozen=True)
class CutKey:
    """A control blank taken for a key; ``bitting`` only where somebody cuts by the figures."""

    case: ControlKeyCase
    symbol: KeySymbol
    left: int
    bitting: str | None = field(default=None, repr=False)


def cut_blank(
    *, actor: User, case: ControlKeyCase, version: int, sign_in: FreshSignIn, show_cuts: bool = False
) -> CutKey:
    """One blank leaves the register for the approved key. History has it before the vault opens."""
    if not show_cuts:
        return _take(actor, case, version, show_cuts)[0]
    return reveal_one(actor=actor, sign_in=sign_in, wanted=lambda: _wanted(actor, case, version))


def _wanted(actor: User, case: ControlKeyCase, version: int) -> Secret[CutKey]:
    cut, approval = _take(actor, case, version, show_cuts=True)
    return shown_for(
        cut.case,
        words=f"the cuts of {cut.symbol} ({cut.case.system.code}), to cut a control blank",
        verb="cuts_shown",
        open=lambda: CutKey(cut.case, cut.symbol, cut.left, bitting_of(cut.symbol)),
        approved_by=approval.approved_by,
        about=[cut.symbol],
    )


@transaction.atomic
def _take(actor: User, case: ControlKeyCase, version: int, show_cuts: bool) -> tuple[CutKey, ControlApproval]:
    case = locked_case(actor, case, version, *WORKERS, way=Way.COPY)
    approval, symbol = approval_to_use(actor, case), case.symbol
    if symbol is None:
        raise Refused(_("No working key is chosen yet. Choose the key to copy first."))
    refuse_key(case, symbol)
    blank = _blank_in_stock(actor, case)
    use_approval(actor, approval)
    take_blank(actor, blank, case, symbol)
    save_next(case)
    how = "by its cuts, which were shown" if show_cuts else "from the key itself"
    sentence = f"cut {symbol} ({case.system.code}) onto a control blank for core {case.core}, {how}"
    tell(
        actor, case, "cut", sentence, [blank, symbol], left=blank.count, approved_by=str(approval.approved_by)
    )
    return CutKey(case, symbol, blank.count), approval


def approval_to_use(actor: User, case: ControlKeyCase) -> ControlApproval:
    approval = open_approval(case)
    if approval is None:
        raise Refused(_("A second person has to approve first: a security officer, on this page."))
    if approval.approved_by_id == actor.pk:
        raise Refused(_("You approved this control key. Somebody else takes it."))
    return approval


def use_approval(actor: User, approval: ControlApproval) -> None:
    approval.used_by, approval.used_at = actor, timezone.now()
    approval.save(update_fields=["used_by", "used_at"])


def _blank_in_stock(actor: User, case: ControlKeyCase) -> ControlBlank:
    blank = blanks_for(case)
    if blank is None:
        raise Refused(
            _(
                "{site} has no register of control blanks for keyway {keyway}. Open one and receive the "
                "blanks into it."
            ).format(site=case.site, keyway=case.system.keyway)
        )
    blank = locked_blank(actor, blank)
    if blank.count < 1:
        raise Refused(
            _(
                "No control blank of keyway {keyway} is in stock at {site}. Receive new ones into the "
                "register, or count again what lies there."
            ).format(keyway=blank.keyway, site=blank.site)
        )
    return blank
