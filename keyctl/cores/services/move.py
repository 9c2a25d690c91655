from django.db import transaction

from keyctl.accounts.models import User
from keyctl.audit.services import record
from keyctl.cores.leaving import refuse_to_leave
from keyctl.cores.models import Core
from keyctl.cores.services.locking import lock_core
from keyctl.lib.errors import Refused

WHERE_TO = {
    Core.Place.SHELF.value: "on the shelf",
    Core.Place.BENCH.value: "on the bench",
    Core.Place.CASE.value: "into their own case",
    Core.Place.GONE.value: "down as gone",
}


@transaction.atomic
def move_core(*, actor: User, core: Core, version: int, place: str) -> Core:
    """Put a core that is in nobody's door on the shelf, the bench, into one's own case, or write it off."""
    core = lock_core(actor, core.pk, version)
    refuse_move(core, place)
    if place != core.place:
        refuse_to_leave(core, place)
    put_core(core, place, carrier=actor)
    record(
        actor=actor,
        verb="core.moved",
        sentence=f"put core {core} {WHERE_TO[place]}",
        site_id=core.site_id,
        subjects=[core],
    )
    return core


def refuse_move(core: Core, place: str) -> None:
    if core.place == Core.Place.HOUSING:
        raise Refused(f"Core {core} is {core.whereabouts}; take it out with a swap order.")
    if core.place == Core.Place.GONE:
        raise Refused(f"Core {core} is gone and does not come back; register the core you hold as a new one.")
    if place == Core.Place.HOUSING:
        raise Refused("A core goes into a housing by a swap order, with its checks.")
    if place not in Core.Place.values:
        raise Refused(f"There is no place called {place}; choose one of the list.")


def put_core(core: Core, place: str, *, carrier: User) -> None:
    """Set the place of a locked core outside a housing."""
    core.place = place
    core.housing = None
    core.carrier = carrier if place == Core.Place.CASE else None
    core.version += 1
    core.save(update_fields=["place", "housing", "carrier", "version"])
