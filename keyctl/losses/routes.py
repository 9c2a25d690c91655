"""By what route a lost key gets into a core: what the plan meant by it, or nothing."""

from collections.abc import Collection, Iterable
from uuid import UUID

from keyctl.cores.models import Keying, Turn
from keyctl.losses.lost import LostKeys
from keyctl.losses.models import CaseDoor
from keyctl.systems.models import KeySymbol

Route = CaseDoor.Route

# Where several lost keys work a core, the route that stands first is told.
ORDER = {route: place for place, route in enumerate(Route)}


class Routes:
    """The plan of every core that the lost keys do something to; its tree is read once."""

    def __init__(self, lost: LostKeys) -> None:
        self._lost = lost
        self._keyed: dict[UUID, set[UUID]] = {}
        touched = Turn.objects.filter(symbol__in=lost.symbols).values("core")
        for core, symbol in Keying.objects.filter(core__in=touched).values_list("core", "symbol"):
            self._keyed.setdefault(core, set()).add(symbol)
        self._above = _parents(lost)

    def route(self, core: UUID, system: UUID | None, key: UUID, *, operates: bool) -> CaseDoor.Route:
        """What the plan says of this key and this core, which it turns or takes out."""
        symbol = self._lost.symbols[key]
        if not operates:
            return Route.CONTROL if symbol.is_control and symbol.system_id == system else Route.INCIDENTAL
        keyed = self._keyed.get(core, set())
        if key in keyed:
            return Route.OWN if len(keyed) == 1 else Route.CROSS
        return Route.MASTER if key in self._line(keyed) else Route.INCIDENTAL

    def _line(self, keyed: Iterable[UUID]) -> set[UUID]:
        """Every key above those a core is keyed to."""
        found: set[UUID] = set()
        for key in keyed:
            above = self._above.get(key)
            while above is not None and above not in found:
                found.add(above)
                above = self._above.get(above)
        return found


def _parents(lost: LostKeys) -> dict[UUID, UUID | None]:
    """Who stands above whom, in the systems of lost masters: only a master stands above anything."""
    systems = {symbol.system_id for symbol in lost.symbols.values() if symbol.is_master}
    rows = KeySymbol.objects.filter(system__in=systems, parent__isnull=False).order_by()
    return dict(rows.values_list("pk", "parent"))


def by_strength(routes: Collection[tuple[CaseDoor.Route, UUID]]) -> tuple[CaseDoor.Route, UUID]:
    return min(routes, key=lambda each: (ORDER[each[0]], str(each[1])))
