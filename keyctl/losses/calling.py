"""Whom to call: holders of keys to the doors that are due, and who had the lost copies."""

from collections.abc import Iterable
from dataclasses import dataclass
from uuid import UUID

from django.db.models import Exists, OuterRef, QuerySet

from keyctl.accounts.models import User
from keyctl.cores.models import Turn
from keyctl.keys.models import Holder, KeyCopy
from keyctl.losses.access import readable_sites
from keyctl.losses.models import CaseNote, LossCase, LostCopy
from keyctl.losses.selectors import exposed_doors, lost_copies


def holders_to_call(actor: User, case: LossCase) -> QuerySet[Holder]:
    """Who has a key to a door that is due: they hear of it, and need another key once it is rekeyed.

    Asked key by key and not door by door: a lost top master concerns every door, and the first one tells.
    """
    copies = KeyCopy.objects.filter(_turns_due(case), holder=OuterRef("pk"), state=KeyCopy.State.HELD)
    return callable_holders(actor).filter(Exists(copies)).select_related("site").order_by("name", "pk")


@dataclass(frozen=True)
class CallRow:
    """A holder of keys to the doors that are due."""

    holder: Holder
    copies: list[KeyCopy]
    called: CaseNote | None


def call_rows(case: LossCase, holders: Iterable[Holder]) -> list[CallRow]:
    listed = list(holders)
    copies = KeyCopy.objects.filter(_turns_due(case), holder__in=listed, state=KeyCopy.State.HELD)
    by_holder: dict[UUID | None, list[KeyCopy]] = {}
    for copy in copies.select_related("symbol__system"):
        by_holder.setdefault(copy.holder_id, []).append(copy)
    calls = case.notes.filter(holder__in=listed).select_related("by").order_by("at")
    called = {note.holder_id: note for note in calls}
    return [CallRow(each, by_holder.get(each.pk, []), called.get(each.pk)) for each in listed]


def losers_of(case: LossCase) -> list[LostCopy]:
    """Who had a copy that is lost: they are asked first."""
    return list(lost_copies(case).filter(holder__isnull=False))


def callable_holders(actor: User) -> QuerySet[Holder]:
    return Holder.objects.filter(site__in=readable_sites(actor))


def _turns_due(case: LossCase) -> Exists:
    """Of a key copy: its key turns a core that is due."""
    due = exposed_doors(case).filter(core=OuterRef("core"), operates=True, is_due=True)
    return Exists(Turn.objects.filter(Exists(due), symbol=OuterRef("symbol"), operates=True))
