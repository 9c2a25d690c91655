"""Which doors somebody opens with the keys in their hands, and with others in their place."""

from collections import defaultdict
from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass
from uuid import UUID

from django.db.models import Exists, OuterRef, QuerySet
from django.utils.translation import gettext

from keyctl.cores.models import Turn
from keyctl.cores.openings import Change
from keyctl.keys.models import Holder, KeyCopy
from keyctl.lib.errors import Refused
from keyctl.places.models import Door
from keyctl.systems.models import KeySymbol

# More turns than these are looked up door by door: a top key opens more than one would list.
FEW_TURNS = 2000


@dataclass(frozen=True)
class Hand:
    """The keys of the copies that are out with a holder, and of those that would be."""

    now: frozenset[UUID]
    then: frozenset[UUID]


@dataclass(frozen=True)
class Opened:
    door: Door
    now: list[KeySymbol]
    then: list[KeySymbol]

    @property
    def change(self) -> Change:
        if bool(self.now) == bool(self.then):
            return Change.NONE
        return Change.GAINED if self.then else Change.LOST


def hand_of(
    holder: Holder, *, with_key: KeySymbol | None = None, without_copy: KeyCopy | None = None
) -> Hand:
    """With a key more, and without one of the copies: another copy of its key goes on opening its doors."""
    if without_copy and without_copy.holder_id != holder.pk:
        raise Refused(
            gettext("Copy {without_copy} is not out with this holder. Name one that is.").format(
                without_copy=without_copy
            )
        )
    held = dict(KeyCopy.objects.filter(holder=holder).values_list("pk", "symbol"))
    left = {symbol for pk, symbol in held.items() if not without_copy or pk != without_copy.pk}
    return Hand(frozenset(held.values()), frozenset(left | ({with_key.pk} if with_key else set())))


def doors_of_hand(doors: QuerySet[Door], hand: Hand, change: str = "") -> QuerySet[Door]:
    """Of these doors those that the keys open, now or then; or only what is gained, lost or stays."""
    if change == Change.GAINED:
        return _opened_by(doors, hand.then - hand.now).exclude(_turned_by(hand.now))
    if change == Change.LOST:
        return _opened_by(doors, hand.now - hand.then).exclude(_turned_by(hand.then))
    if change == Change.NONE:
        return _opened_by(doors, hand.now).filter(_turned_by(hand.then))
    return _opened_by(doors, hand.now | hand.then)


def opened_by_hand(doors: Sequence[Door], hand: Hand) -> list[Opened]:
    """Each door with the keys that open it, in two queries."""
    turning = _turning(doors, hand.now | hand.then)
    return [Opened(door, _of(turning[door.pk], hand.now), _of(turning[door.pk], hand.then)) for door in doors]


def _opened_by(doors: QuerySet[Door], keys: frozenset[UUID]) -> QuerySet[Door]:
    turns = Turn.objects.filter(operates=True, symbol__in=keys, core__housing__isnull=False).order_by()
    few = len(turns.values_list("pk")[: FEW_TURNS + 1]) <= FEW_TURNS
    return doors.filter(pk__in=turns.values("core__housing__door")) if few else doors.filter(_turned_by(keys))


def _turned_by(keys: Collection[UUID]) -> Exists:
    return Exists(
        Turn.objects.filter(operates=True, symbol__in=keys, core__housing__door=OuterRef("pk")).order_by()
    )


def _turning(doors: Sequence[Door], keys: frozenset[UUID]) -> dict[UUID, dict[UUID, KeySymbol]]:
    turns = Turn.objects.filter(
        operates=True, symbol__in=keys, core__housing__door__in=[door.pk for door in doors]
    )
    rows = list(turns.values_list("core__housing__door", "symbol"))
    symbols = KeySymbol.objects.filter(pk__in={symbol for _, symbol in rows}).select_related("system")
    by_pk = symbols.defer("bitting", "system__design").in_bulk()
    found: dict[UUID, dict[UUID, KeySymbol]] = defaultdict(dict)
    for door, symbol in rows:
        found[door][symbol] = by_pk[symbol]
    return found


def _of(turning: dict[UUID, KeySymbol], keys: Iterable[UUID]) -> list[KeySymbol]:
    found = [turning[key] for key in keys if key in turning]
    return sorted(found, key=lambda key: (key.system.code, key.level or 0, key.symbol))
