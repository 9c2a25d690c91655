"""What withdrawn tablets told and nobody has decided on."""

from collections.abc import Iterable
from uuid import UUID

from django.db.models import QuerySet

from keyctl.accounts.models import User
from keyctl.field.access import SETTLERS
from keyctl.field.models import FieldEvent
from keyctl.places.models import Site


def waiting_for(actor: User) -> QuerySet[FieldEvent]:
    """At the sites where the actor decides, in the order in which the tablets wrote it."""
    waiting = FieldEvent.objects.filter(quarantine=FieldEvent.Quarantine.WAITING)
    mine = waiting.filter(device__site__in=Site.objects.for_roles(actor, *SETTLERS))
    return mine.select_related("device__withdrawn_by", "person", "sender").order_by(
        "device__name", "sequence"
    )


def chosen_of(actor: User, pks: Iterable[UUID | None]) -> list[FieldEvent]:
    return list(waiting_for(actor).filter(pk__in=[pk for pk in pks if pk]))
