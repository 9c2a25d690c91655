"""What people write into a case: notes, who was told, holders who were called, what is known of a copy."""

from django.db import transaction
from django.utils.translation import gettext as _

from keyctl.accounts.models import User
from keyctl.keys.models import Holder
from keyctl.lib.errors import Refused
from keyctl.lib.holding import save_next
from keyctl.lib.language import in_english
from keyctl.losses.access import NOTERS
from keyctl.losses.lost import LostKeys
from keyctl.losses.models import CaseNote, LossCase, LostCopy
from keyctl.losses.services.locking import locked_case, tell
from keyctl.recovery.services.wording import refuse_cuts

Kind = CaseNote.Kind


@transaction.atomic
def add_note(*, actor: User, case: LossCase, text: str, kind: str = Kind.NOTE) -> CaseNote:
    """A note, or who was told and how; anybody who works on the case writes."""
    case = locked_case(actor, case, None, *NOTERS, states=list(LossCase.State))
    words = clean_words(case, text, missing=_("Write what is to be kept."))
    if kind not in {Kind.NOTE, Kind.TOLD}:
        raise Refused(_("Write a note, or who was told. A call to a holder is written beside the holder."))
    note = CaseNote.objects.create(case=case, kind=kind, text=words, by=actor)
    tell(actor, case, kind, f"{in_english(case)}, {in_english(note.get_kind_display).lower()}: {words}"[:400])
    return note


@transaction.atomic
def call_holder(*, actor: User, case: LossCase, holder: Holder, text: str = "") -> CaseNote:
    """A holder of a key to these doors was called."""
    case = locked_case(actor, case, None, *NOTERS)
    words = clean_words(case, text or "Called.", missing="")
    note = CaseNote.objects.create(case=case, kind=Kind.CALLED, text=words, holder=holder, by=actor)
    tell(actor, case, "called", f"called {holder} about {in_english(case)}: {words}"[:400], [holder])
    return note


@transaction.atomic
def tell_facts(
    *, actor: User, lost: LostCopy, where: str = "", last_seen: str = "", police_number: str = ""
) -> LostCopy:
    """Where and when a copy was last seen, and the number of the report to the police."""
    case = locked_case(actor, lost.case, None, *NOTERS)
    facts = {"where": where, "last_seen": last_seen, "police_number": police_number}
    for text in (where, last_seen):
        _refuse_cuts(case, text)
    for name, text in facts.items():
        setattr(lost, name, text.strip())
    lost.save(update_fields=list(facts))
    save_next(case)
    words = f"{in_english(case)}: wrote down what is known of copy {lost.copy}"
    tell(actor, case, "facts", words, [lost.copy], **facts)
    return lost


def clean_words(case: LossCase, text: str, *, missing: str) -> str:
    """The words without blanks at their ends; refused where there are none, or cuts among them."""
    if not text.strip():
        raise Refused(missing)
    _refuse_cuts(case, text)
    return text.strip()


def _refuse_cuts(case: LossCase, text: str) -> None:
    for symbol in LostKeys.of(case).symbols.values():
        refuse_cuts(text, symbol.system.format_id)
