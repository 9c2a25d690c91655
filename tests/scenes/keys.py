from typing import Any

from keyctl.keys.models import Deposit
from keyctl.keys.services import Signature, issue_keys
from tests import factories
from tests.scenes.base import Base


def routes(base: Base) -> dict[str, Any]:
    copy, site, holder = base.copy.pk, base.cast.north.pk, base.holder.pk
    cabinet, deposit = base.copy.cabinet_id, a_deposit(base)
    return {
        **dict.fromkeys([f"keys:{name}" for name in ACTS], copy),
        **dict.fromkeys([f"keys:{name}" for name in OF_HOLDER], holder),
        **dict.fromkeys([f"keys:{name}" for name in OF_CABINET], cabinet),
        **dict.fromkeys([f"keys:{name}" for name in OF_SITE], site),
        "keys:drawing": base.change.pk,
        "keys:handover": deposit.handover_id,
        "keys:give-back-deposit": deposit.pk,
        "keys:keep-deposit": deposit.pk,
    }


ACTS = ["copy", "hand-out", "take-back", "transfer", "found", "move", "lost", "broken", "destroy"]
OF_HOLDER = ["holder", "change-holder", "deactivate-holder", "reactivate-holder"]
OF_CABINET = ["cabinet", "move-copies", "rename-cabinet", "change-custodian"]
OF_SITE = ["cut", "new-holder", "new-cabinet", "site-rules", "new-terms"]


def a_deposit(base: Base) -> Deposit:
    """Left for a second copy, with a drawn signature."""
    assert base.copy.cabinet is not None
    act = issue_keys(
        actor=base.cast.desk,
        holder=factories.make_holder(base.cast.north),
        copies=[factories.make_copy(base.change, base.copy.cabinet)],
        signature=Signature(path="M10 10L200 40L10 80L90 90L10 120L40 80"),
        deposit=500,
    )
    return Deposit.objects.get(handover=act)
