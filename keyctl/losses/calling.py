"""Whom to call: holders of keys to the doors that are due, and who had the lost copies."""

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any
from uuid import UUID

from django.db.models import Exists, OuterRef, Q, QuerySet

from keyctl.accounts.models import User
from keyctl.cores.models import Turn
from keyctl.keys.models import Holder, KeyCopy
from keyctl.losses.access import readable_sites
from keyctl.losses.figures import Figures
from keyctl.losses.models import CaseNote, LossCase, LostCopy
from keyctl.losses.selectors import exposed_doors, lost_copies

FEW_DOORS = 1000


def holders_to_call(actor: User, case: LossCase) -> QuerySet[Holder]:
    """Who has a key to a door that is due: they hear of it, and need another key once it is rekeyed.

    Few doors are asked for their keys. Of many, as after a lost top master, key by key: the first door of
    each tells.
    """
    held = KeyCopy.objects.filter(state=KeyCopy.State.HELD, holder__isnull=False).order_by()
    concerned = (
        Q(pk__in=held.filter(symbol__in=_keys_due(case)).values("holder"))
        if Figures.of(case).due <= FEW_DOORS
        else Exists(held.filter(_turns_due(case), holder=OuterRef("pk")))
    )
    return callable_holders(actor).filter(concerned).select_related("site").order_by("name", "pk")


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


def _keys_due(case: LossCase) -> QuerySet[Turn, Any]:
    """The keys that turn a core that is due."""
    due = exposed_doors(case).filter(operates=True, is_due=True).order_by()
    return Turn.objects.filter(core__in=due.values("core"), operates=True).order_by().values("symbol")


def _turns_due(case: LossCase) -> Exists:
    """Of a key copy: its key turns a core that is due."""
    due = exposed_doors(case).filter(core=OuterRef("core"), operates=True, is_due=True)
    return Exists(Turn.objects.filter(Exists(due), symbol=OuterRef("symbol"), operates=True))
