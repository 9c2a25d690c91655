"""A lost key turns up again."""

from django.db import transaction
from django.utils.translation import gettext as _

from keyctl.accounts.models import User
from keyctl.keys import finding
from keyctl.keys.access import DESK
from keyctl.keys.models import Cabinet, KeyCopy
from keyctl.keys.services.ledger import State, locked, named, put, refuse_cabinet_elsewhere, tell
from keyctl.lib.errors import Refused
from keyctl.places.access import require_role


@transaction.atomic
def take_found(
    *, actor: User, copy: KeyCopy, cabinet: Cabinet, note: str = "", version: int | None = None
) -> KeyCopy:
    """It goes into a cabinet; that it was lost stays in history, and whoever follows the loss is told."""
    (copy,) = locked([copy], version)
    require_role(actor, copy.site, *DESK)
    if copy.state != State.LOST:
        where = copy.holder or copy.cabinet
        place = f"it is with {where}" if copy.holder else f"it is in {where}" if where else "it was destroyed"
        raise Refused(
            _("Copy {copy} is not lost: {place}. Look at the serial again.").format(copy=copy, place=place)
        )
    refuse_cabinet_elsewhere(cabinet, copy.site)
    put(copy, State.IN_CABINET, cabinet=cabinet)
    sentence = f"took the found {named([copy])} into {cabinet}"
    finding.tell_listeners(actor, [copy], note.strip())
    tell(actor, [copy], "key.found", sentence, things=[cabinet], detail={"note": note.strip()})
    return copy
