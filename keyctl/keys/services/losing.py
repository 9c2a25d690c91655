"""A key is lost: from a holder's hand or out of a cabinet."""

from django.db import transaction
from django.utils.translation import gettext as _

from keyctl.accounts.models import User
from keyctl.keys import losing, returning
from keyctl.keys.access import LOSS_REPORTERS
from keyctl.keys.models import Custody, KeyCopy
from keyctl.keys.services.ledger import State, end_lines, locked, named, put, tell
from keyctl.lib.errors import Refused
from keyctl.places.access import require_role


@transaction.atomic
def report_lost(*, actor: User, copy: KeyCopy, note: str = "", version: int | None = None) -> KeyCopy:
    (copy,) = locked([copy], version)
    require_role(actor, copy.site, *LOSS_REPORTERS)
    if copy.state == State.LOST:
        raise Refused(
            _("Copy {copy} is already reported lost. Look at its history for when, and by whom.").format(
                copy=copy
            )
        )
    if copy.state == State.DESTROYED:
        raise Refused(
            _("Copy {copy} was destroyed; it cannot be lost. Look at the serial again.").format(copy=copy)
        )
    holder, place = copy.holder, f"with {copy.holder}" if copy.holder else f"in {copy.cabinet}"
    end_lines(actor, [copy], Custody.Ending.LOST)
    put(copy, State.LOST)
    sentence = f"reported {named([copy])} lost; it was last {place}"
    losing.tell_listeners(actor, [copy], note.strip())
    returning.tell_listeners(actor, [holder] if holder else [])
    tell(actor, [copy], "key.lost", sentence, things=[holder], detail={"note": note.strip()})
    return copy
