"""Which share of a door's keys is lost, and whether a rekey is due by the rules of its site.

The keys of a door are the change keys that turn it by its pins. A key that was lost before the door was last
rekeyed does not turn it any more, so it does not count: only keys to the door as it is now do.
"""

from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import islice
from uuid import UUID

from django.db.models import Count, Q

from keyctl.cores.models import Turn
from keyctl.keys.models import KeyCopy
from keyctl.losses.models import CaseDoor, LossRule
from keyctl.places.models import Door
from keyctl.systems.models import KeySymbol

DoorClass = Door.DoorClass
Why = CaseDoor.Why

# Ours, to be adapted by every house: shares in a thousand; 0 says that one copy suffices.
STARTING_SHARES: Mapping[str, int] = {
    DoorClass.ORDINARY: 100,
    DoorClass.RESTRICTED: 50,
    DoorClass.CRITICAL: 0,
}
CORES_AT_ONCE = 500


@dataclass(frozen=True)
class Copies:
    """Of one key or of all keys of a door: lost and not found, and cut and not destroyed."""

    lost: int = 0
    cut: int = 0

    def __add__(self, other: "Copies") -> "Copies":
        return Copies(self.lost + other.lost, self.cut + other.cut)

    @property
    def share(self) -> int:
        return 1000 * self.lost // self.cut if self.cut else 0

    def reaches(self, share: int) -> bool:
        return self.lost > 0 and 1000 * self.lost >= share * self.cut


@dataclass(frozen=True)
class Verdict:
    is_due: bool
    why: CaseDoor.Why
    copies: Copies
    share_due: int = 0


class Shares:
    """The rules of all sites."""

    def __init__(self) -> None:
        rows = LossRule.objects.values_list("site", "door_class", "share")
        self._set = {(site, door_class): share for site, door_class, share in rows}

    def due_at(self, site: UUID, door_class: str) -> int:
        return self._set.get((site, door_class), STARTING_SHARES[door_class])

    def verdict(self, site: UUID, door_class: str, copies: Copies) -> Verdict:
        """For change keys of a door of this class."""
        share = self.due_at(site, door_class)
        due = copies.reaches(share)
        why = (Why.SHARE if share else Why.CRITICAL) if due else Why.BELOW
        return Verdict(due, why, copies, share)


def copies_of(symbols: Collection[UUID]) -> dict[UUID, Copies]:
    """By key; all sites together, since a copy of another site turns the door as well."""
    found: dict[UUID, Copies] = {}
    for part in _parts(list(symbols)):
        rows = (
            KeyCopy.objects.filter(symbol__in=part)
            .exclude(state=KeyCopy.State.DESTROYED)
            .order_by()
            .values_list("symbol")
            .annotate(lost=Count("pk", filter=Q(state=KeyCopy.State.LOST)), cut=Count("pk"))
        )
        found |= {symbol: Copies(lost, cut) for symbol, lost, cut in rows}
    return found


def copies_for_cores(cores: Collection[UUID]) -> dict[UUID, Copies]:
    """By core: the copies of every change key that turns it."""
    turning = _change_keys(cores)
    of_key = copies_of({key for keys in turning.values() for key in keys})
    return {
        core: sum((of_key.get(key, Copies()) for key in keys), Copies()) for core, keys in turning.items()
    }


def _change_keys(cores: Collection[UUID]) -> dict[UUID, list[UUID]]:
    turning: dict[UUID, list[UUID]] = {}
    for part in _parts(list(cores)):
        rows = Turn.objects.filter(core__in=part, operates=True, symbol__kind=KeySymbol.Kind.CHANGE)
        for core, symbol in rows.values_list("core", "symbol"):
            turning.setdefault(core, []).append(symbol)
    return turning


def _parts(keys: Sequence[UUID]) -> Iterator[list[UUID]]:
    left = iter(keys)
    while part := list(islice(left, CORES_AT_ONCE)):
        yield part
