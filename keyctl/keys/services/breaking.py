"""Broken keys, and keys that are destroyed."""

from django.db import transaction
from django.utils.translation import gettext as _

from keyctl.accounts.models import User
from keyctl.keys.access import DESTROYERS
from keyctl.keys.models import KeyCopy
from keyctl.keys.reservations import set_aside
from keyctl.keys.services.ledger import State, locked, named, put, tell
from keyctl.lib.errors import Refused
from keyctl.lib.language import in_sentence
from keyctl.places.access import require_role


@transaction.atomic
def report_broken(*, actor: User, copy: KeyCopy, note: str, version: int | None = None) -> KeyCopy:
    """Bent, worn or snapped: it stays where it is, is never handed out again, and waits to be destroyed."""
    (copy,) = locked([copy], version)
    require_role(actor, copy.site, *DESTROYERS)
    if copy.state in {State.LOST, State.DESTROYED}:
        raise Refused(
            _("Copy {copy} is {value}. Look at the serial again.").format(
                copy=copy, value=in_sentence(copy.get_state_display())
            )
        )
    if copy.is_broken:
        raise Refused(
            _("Copy {copy} is already reported broken. Destroy it once it is at the desk.").format(copy=copy)
        )
    if not note.strip():
        raise Refused(_("Say what is wrong with the key: whoever cuts the next one reads it."))
    copy.condition = KeyCopy.Condition.BROKEN
    copy.version += 1
    copy.save(update_fields=["condition", "version"])
    sentence = f"reported {named([copy])} broken"
    tell(actor, [copy], "key.broken", sentence, things=[copy.holder], detail={"note": note.strip()})
    return copy


@transaction.atomic
def destroy_copy(*, actor: User, copy: KeyCopy, reason: str, version: int | None = None) -> KeyCopy:
    """Only what lies on the desk can be destroyed, and seen to be."""
    (copy,) = locked([copy], version)
    require_role(actor, copy.site, *DESTROYERS)
    if copy.state == State.DESTROYED:
        raise Refused(_("Copy {copy} is already destroyed. Look at the serial again.").format(copy=copy))
    if copy.state == State.HELD:
        raise Refused(
            _("Copy {copy} is with {holder}. Take it back first, then destroy it.").format(
                copy=copy, holder=copy.holder
            )
        )
    if copy.state == State.LOST:
        raise Refused(
            _("Copy {copy} is lost. When it is found, take it back first, then destroy it.").format(copy=copy)
        )
    if aside := set_aside([copy]).get(copy.pk):
        raise Refused(aside)
    if not reason.strip():
        raise Refused(_("A key is destroyed for a reason. Say why, and how it was done."))
    put(copy, State.DESTROYED)
    tell(actor, [copy], "key.destroyed", f"destroyed {named([copy])}", detail={"note": reason.strip()})
    return copy
