"""Who can open what, read from the turns that the pins gave."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from uuid import UUID

from django.db.models import Count, QuerySet
from django.utils.translation import gettext as _

from keyctl.accounts.models import User
from keyctl.cores.models import Core, Turn
from keyctl.places.access import visible_doors
from keyctl.places.models import Door, Housing
from keyctl.systems.models import KeySymbol
from keyctl.systems.selectors import LINE, line_of


@dataclass(frozen=True)
class Opener:
    """One key that does something to a core in a door, and why."""

    symbol: KeySymbol
    core: Core
    housing: Housing
    operates: bool
    withdraws: bool
    is_planned: bool
    route: str
    copies_held: int

    @property
    def effect(self) -> str:
        if self.operates and self.withdraws:
            return _("turns it and takes the core out")
        return _("turns it") if self.operates else _("takes the core out")


# What an opener tells of a turn, in one query.
TURN_WITH_NAMES = ("core__housing__door__floor__building__site", "symbol__system", f"symbol__{LINE}")


def openers_of(actor: User, door: Door) -> list[Opener]:
    """Every key that turns or withdraws a core in the door's housings, lowest level first."""
    turns = Turn.objects.filter(core__housing__door=door, core__housing__door__in=visible_doors(actor))
    openers = openers_by(turns.select_related(*TURN_WITH_NAMES), {})
    return sorted(
        openers, key=lambda opener: (str(opener.housing), -(opener.symbol.level or 0), str(opener.symbol))
    )


def openers_by(turns: Iterable[Turn], elsewhere: Mapping[UUID, Housing]) -> list[Opener]:
    """In the order of the turns; ``elsewhere`` says of some cores where they are imagined to be."""
    turns = list(turns)
    planned = planned_keys({turn.core_id for turn in turns})
    held = _copies_held({turn.symbol_id for turn in turns})
    return [
        _opener(
            turn,
            elsewhere.get(turn.core_id) or turn.core.housing,
            planned[turn.core_id],
            held.get(turn.symbol_id, 0),
        )
        for turn in turns
    ]


def planned_keys(cores: Iterable[UUID]) -> dict[UUID, dict[UUID, KeySymbol]]:
    """Per core, the keys its keying means to turn it: for each, the symbol keyed to that brings it in."""
    planned: dict[UUID, dict[UUID, KeySymbol]] = {core: {} for core in cores}
    through = KeySymbol.cores.through.objects.filter(core__in=planned).select_related(
        "symbol", f"symbol__{LINE}"
    )
    for keying in through:
        for key in line_of(keying.symbol):
            planned[keying.core_id].setdefault(key.pk, keying.symbol)
    return planned


def doors_opened_by(symbol: KeySymbol) -> QuerySet[Door]:
    """The doors with a core that the key turns, by the pins."""
    turning = Housing.objects.filter(cores__turns__symbol=symbol, cores__turns__operates=True)
    return Door.objects.filter(housings__in=turning).with_places().distinct()


def _copies_held(symbols: Iterable[UUID]) -> dict[UUID, int]:
    """Copies lie above cores in the order of imports; the count goes through the relation, not the model."""
    counted = KeySymbol.objects.filter(pk__in=symbols, copies__state="held").annotate(held=Count("copies"))
    return dict(counted.values_list("pk", "held"))


def _opener(turn: Turn, housing: Housing | None, planned: dict[UUID, KeySymbol], copies_held: int) -> Opener:
    if housing is None:  # the query asks for cores in a housing
        raise AssertionError
    return Opener(
        symbol=turn.symbol,
        core=turn.core,
        housing=housing,
        operates=turn.operates,
        withdraws=turn.withdraws,
        is_planned=_is_planned(turn, planned),
        route=_route(turn, planned),
        copies_held=copies_held,
    )


def _is_planned(turn: Turn, planned: dict[UUID, KeySymbol]) -> bool:
    if turn.symbol.is_control:
        return turn.withdraws and not turn.operates and turn.symbol.system_id == turn.core.system_id
    return turn.operates and not turn.withdraws and turn.symbol_id in planned


def _route(turn: Turn, planned: dict[UUID, KeySymbol]) -> str:
    if not _is_planned(turn, planned):
        return _("not in the plan: the pins let it")
    if turn.symbol.is_control:
        return _("control key of the system")
    keyed = planned[turn.symbol_id]
    if keyed == turn.symbol:
        return _("the core is keyed to it")
    return _("master above {keyed}").format(keyed=keyed)
