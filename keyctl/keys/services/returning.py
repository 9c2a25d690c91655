"""Keys come back: several copies in one act, of one holder or of many."""

from collections.abc import Mapping, Sequence
from uuid import UUID

from django.db import transaction
from django.utils.translation import gettext as _

from keyctl.accounts.models import User
from keyctl.keys import returning
from keyctl.keys.access import TAKERS
from keyctl.keys.models import Cabinet, Custody, Handover, KeyCopy
from keyctl.keys.services.finding import take_found
from keyctl.keys.services.ledger import (
    State,
    end_lines,
    locked,
    named,
    only_site,
    put,
    refuse_all,
    refuse_cabinet_elsewhere,
    shortened,
    tell,
    write_act,
)
from keyctl.keys.signing import Signature, checked_signature
from keyctl.places.access import require_role


@transaction.atomic
def return_keys(
    *,
    actor: User,
    copies: Sequence[KeyCopy],
    cabinet: Cabinet,
    brought_by: str = "",
    conditions: Mapping[UUID, str] | None = None,
    signature: Signature | None = None,
    version: int | None = None,
) -> Handover:
    """``conditions`` says of some copies, by their ``pk``, what they were like; who brings them may sign."""
    copies = locked(copies, version)
    site = only_site(copies)
    require_role(actor, site, *TAKERS)
    refuse_all([reason for copy in copies if (reason := _why_not_back(copy))])
    refuse_cabinet_elsewhere(cabinet, site)
    holders = list({copy.holder_id: copy.holder for copy in copies if copy.holder}.values())
    act = write_act(
        actor,
        site,
        Handover.Way.BACK,
        holder=holders[0] if len(holders) == 1 else None,
        signature=checked_signature(signature) if signature else None,
    )
    end_lines(actor, copies, Custody.Ending.RETURNED, back_act=act, brought_by=brought_by.strip()[:120])
    _note_conditions(act, conditions or {})
    for copy in copies:
        put(copy, State.IN_CABINET, cabinet=cabinet)
    origin = shortened([str(holder) for holder in holders])
    sentence = f"took back {named(copies)} from {origin} into {cabinet}"
    returning.tell_listeners(actor, holders)
    tell(
        actor, copies, "key.taken_back", sentence, things=[*holders, act, cabinet], detail={"act": act.number}
    )
    return act


@transaction.atomic
def take_back(
    *,
    actor: User,
    copy: KeyCopy,
    cabinet: Cabinet,
    brought_by: str = "",
    condition: str = "",
    version: int | None = None,
) -> KeyCopy:
    """One copy: a held one comes back, or a lost one was found."""
    (copy,) = locked([copy], version)
    if copy.state == State.LOST:
        return take_found(actor=actor, copy=copy, cabinet=cabinet, note=condition)
    conditions = {copy.pk: condition}
    return_keys(actor=actor, copies=[copy], cabinet=cabinet, brought_by=brought_by, conditions=conditions)
    return KeyCopy.objects.with_names().get(pk=copy.pk)


def _why_not_back(copy: KeyCopy) -> str | None:
    if copy.state == State.IN_CABINET:
        return _("Copy {copy} is not out: it is in {cabinet}. Look at the serial again.").format(
            copy=copy, cabinet=copy.cabinet
        )
    if copy.state == State.DESTROYED:
        return _("Copy {copy} was destroyed. Look at the serial again.").format(copy=copy)
    if copy.state == State.LOST:
        return _("Copy {copy} is reported lost. Take it in as found, on its own page.").format(copy=copy)
    return None


def _note_conditions(act: Handover, conditions: Mapping[UUID, str]) -> None:
    for pk, words in conditions.items():
        if words.strip():
            act.lines_back.filter(copy=pk).update(condition_back=words.strip()[:200])
