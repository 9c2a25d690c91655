"""Another day on which a key that is out comes back. History has the one before, too."""

from datetime import datetime

from django.db import transaction
from django.utils.translation import gettext as _

from keyctl.accounts.models import User
from keyctl.keys.access import DESK
from keyctl.keys.models import Custody
from keyctl.keys.services.issuing import refuse_past
from keyctl.keys.services.ledger import locked, named, tell
from keyctl.lib.errors import Conflict
from keyctl.lib.moments import said
from keyctl.places.access import require_role


@transaction.atomic
def change_due(*, actor: User, line: Custody, due_at: datetime | None, puts_back: bool = False) -> Custody:
    """None: until somebody asks for it. ``puts_back`` undoes such a change: what was overdue is so again."""
    [copy] = locked([line.copy])
    line = Custody.objects.select_related("holder").get(pk=line.pk)
    require_role(actor, copy.site, *DESK)
    if line.ended_at is not None:
        raise Conflict(
            _("Copy {copy} is not with {holder} any more. Nothing was changed.").format(
                copy=copy, holder=line.holder
            )
        )
    if due_at == line.due_at:
        return line
    if not puts_back:
        refuse_past(due_at)
    before, line.due_at = line.due_at, due_at
    line.save(update_fields=["due_at"])
    copy.version += 1
    copy.save(update_fields=["version"])
    until = f"due back on {said(due_at)}" if due_at else "without a day to bring it back"
    was = f"; before: {said(before)}" if before else ""
    sentence = f"left {named([copy])} with {line.holder}, {until}{was}"
    tell(actor, [copy], "key.due_changed", sentence, things=[line.holder, line])
    return line
