"""Broken keys, and keys that are destroyed."""

from django.db import transaction

from keyctl.accounts.models import User
from keyctl.keys.access import DESTROYERS
from keyctl.keys.models import KeyCopy
from keyctl.keys.reservations import set_aside
from keyctl.keys.services.ledger import State, locked, named, put, tell
from keyctl.lib.errors import Refused
from keyctl.places.access import require_role


@transaction.atomic
def report_broken(*, actor: User, copy: KeyCopy, note: str, version: int | None = None) -> KeyCopy:
    """Bent, worn or snapped: it stays where it is, is never handed out again, and waits to be destroyed."""
    (copy,) = locked([copy], version)
    require_role(actor, copy.site, *DESTROYERS)
    if copy.state in {State.LOST, State.DESTROYED}:
        raise Refused(f"Copy {copy} is {copy.get_state_display().lower()}. Look at the serial again.")
    if copy.is_broken:
        raise Refused(f"Copy {copy} is already reported broken. Destroy it once it is at the desk.")
    if not note.strip():
        raise Refused("Say what is wrong with the key: whoever cuts the next one reads it.")
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
        raise Refused(f"Copy {copy} is already destroyed. Look at the serial again.")
    if copy.state == State.HELD:
        raise Refused(f"Copy {copy} is with {copy.holder}. Take it back first, then destroy it.")
    if copy.state == State.LOST:
        raise Refused(f"Copy {copy} is lost. When it is found, take it back first, then destroy it.")
    if aside := set_aside([copy]).get(copy.pk):
        raise Refused(aside)
    if not reason.strip():
        raise Refused("A key is destroyed for a reason. Say why, and how it was done.")
    put(copy, State.DESTROYED)
    tell(actor, [copy], "key.destroyed", f"destroyed {named([copy])}", detail={"note": reason.strip()})
    return copy
