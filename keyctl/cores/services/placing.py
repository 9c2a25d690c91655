"""Where a locked core is now: three fields and its version, and never one of them alone."""

from django.db import DatabaseError

from keyctl.accounts.models import User
from keyctl.cores.models import Core
from keyctl.lib.prepared import PreparedUpdate, Slot
from keyctl.places.models import Housing

_PLACED = PreparedUpdate(
    lambda: Core.objects.filter(pk=Slot("pk")),
    **{name: Slot(name) for name in ("place", "housing", "carrier", "version")},
)


def put_core(core: Core, place: str, *, carrier: User) -> None:
    """Set the place of a locked core outside a housing."""
    _place(core, place, None, carrier if place == Core.Place.CASE else None)


def install_core(core: Core, housing: Housing) -> None:
    """Set it into a housing that is locked and empty."""
    _place(core, Core.Place.HOUSING.value, housing, None)


def _place(core: Core, place: str, housing: Housing | None, carrier: User | None) -> None:
    core.place, core.housing, core.carrier = place, housing, carrier
    core.version += 1
    written = _PLACED.update(
        pk=core.pk,
        place=place,
        housing=housing.pk if housing else None,
        carrier=carrier.pk if carrier else None,
        version=core.version,
    )
    if written != 1:
        raise DatabaseError(f"Core {core} was locked and is not there.")
