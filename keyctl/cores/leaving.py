"""Why a core stays where it is: reasons that the apps above know (it was pinned and nobody tried it).

Each reason is asked with the core locked, before it goes on a shelf, into a case or into a door.
"""

from collections.abc import Callable

from keyctl.cores.models import Core
from keyctl.lib.errors import Refused

Reason = Callable[[Core], str | None]
_reasons: list[Reason] = []

# Back to the bench it always goes, and what is gone is gone.
HELD_FROM = (Core.Place.SHELF, Core.Place.CASE, Core.Place.HOUSING)


def add_reason(reason: Reason) -> None:
    _reasons.append(reason)


def refuse_to_leave(core: Core, place: str) -> None:
    if place not in HELD_FROM:
        return
    if found := [words for reason in _reasons if (words := reason(core))]:
        raise Refused(found[0], reasons=found[1:])
