"""What withdrawn tablets told and nobody has decided on."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from uuid import UUID

from django.db.models import QuerySet

from keyctl.accounts.models import User
from keyctl.field.access import SETTLERS
from keyctl.field.models import FieldEvent
from keyctl.field.things import Things, told_of
from keyctl.field.wording import said_of
from keyctl.places.models import Site


@dataclass(frozen=True)
class Waiting:
    """One event, and what it says in words for people of the tablet's site."""

    event: FieldEvent
    says: str


def waiting_for(actor: User) -> QuerySet[FieldEvent]:
    """At the sites where the actor decides, in the order in which the tablets wrote it."""
    waiting = FieldEvent.objects.filter(quarantine=FieldEvent.Quarantine.WAITING)
    mine = waiting.filter(device__site__in=Site.objects.for_roles(actor, *SETTLERS))
    return mine.select_related("device__withdrawn_by", "person", "sender").order_by(
        "device__name", "sequence"
    )


def chosen_of(actor: User, pks: Iterable[UUID | None]) -> list[FieldEvent]:
    return list(waiting_for(actor).filter(pk__in=[pk for pk in pks if pk]))


def in_words(events: Sequence[FieldEvent]) -> list[Waiting]:
    told = [told_of(event) for event in events]
    things = Things.of(told)
    return [
        Waiting(event, said_of(each.body, things, event.device.site_id) if event.device else "")
        for event, each in zip(events, told, strict=True)
    ]
