"""Copies hang in another cabinet from now on."""

from collections.abc import Sequence

from django.db import transaction
from django.utils.translation import gettext as _

from keyctl.accounts.models import User
from keyctl.keys.access import DESK
from keyctl.keys.models import Cabinet, KeyCopy
from keyctl.keys.services.ledger import (
    State,
    locked,
    named,
    only_site,
    put,
    refuse_all,
    refuse_cabinet_elsewhere,
    shortened,
    tell,
)
from keyctl.lib.language import in_sentence
from keyctl.places.access import require_role


@transaction.atomic
def move_copies(
    *, actor: User, copies: Sequence[KeyCopy], cabinet: Cabinet, version: int | None = None
) -> list[KeyCopy]:
    copies = locked(copies, version)
    site = only_site(copies)
    require_role(actor, site, *DESK)
    refuse_all([reason for copy in copies if (reason := _why_not_moved(copy, cabinet))])
    refuse_cabinet_elsewhere(cabinet, site)
    places = shortened(sorted({str(copy.cabinet) for copy in copies}))
    for copy in copies:
        put(copy, State.IN_CABINET, cabinet=cabinet)
    tell(actor, copies, "key.moved", f"moved {named(copies)} from {places} to {cabinet}", things=[cabinet])
    return copies


def _why_not_moved(copy: KeyCopy, cabinet: Cabinet) -> str | None:
    if copy.state == State.HELD:
        return _("Copy {copy} is with {holder}, in no cabinet. Take it back first.").format(
            copy=copy, holder=copy.holder
        )
    if copy.state != State.IN_CABINET:
        return _("Copy {copy} is {value}, in no cabinet. Look at the serial again.").format(
            copy=copy, value=in_sentence(copy.get_state_display())
        )
    if copy.cabinet_id == cabinet.pk:
        return _("Copy {copy} is in {cabinet} already. Choose another cabinet.").format(
            copy=copy, cabinet=cabinet
        )
    return None
