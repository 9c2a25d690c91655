"""Pins that open work will take: what each core that waits to be pinned needs by its plan, in sums.

Only locksmiths get to see these sums, and only what is short is named by its size; the stacks of one core
are shown by the pinning sheet and the core's own page, each of which history knows of.
"""

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from uuid import UUID

from django.db.models import QuerySet
from django.utils.translation import gettext as _

from keyctl import engine
from keyctl.accounts.models import User
from keyctl.cores.models import Core
from keyctl.cores.services import pins_for
from keyctl.lib.errors import Refused
from keyctl.lib.language import Text
from keyctl.orders.models import OrderLine, WorkOrder
from keyctl.places.access import require_role
from keyctl.places.models import Site
from keyctl.places.roles import Role
from keyctl.stock.demand import Demand
from keyctl.stock.families import family_id, pins_in
from keyctl.stock.models import PinRole
from keyctl.stock.selectors import Need, needs_at
from keyctl.systems.models import KeySymbol
from keyctl.systems.selectors import LINE
from keyctl.systems.services import bitting_of


@dataclass(frozen=True)
class Shortage:
    """The pins of an order's open lines against the bins as they stand; other orders use the same bins."""

    cores: int
    needs: list[Need]
    untold: tuple[str, ...]

    @property
    def by_role(self) -> list[tuple[Text, int]]:
        """How many pins of each role, whatever their size."""
        sums = Counter[str]()
        for need in self.needs:
            sums[need.role] += need.needed
        return [(role.label, sums[role]) for role in PinRole if sums[role]]

    @property
    def short(self) -> list[Need]:
        return [need for need in self.needs if need.short]

    @property
    def uncounted(self) -> list[Need]:
        return [need for need in self.needs if need.held is None]


def shortage_of(actor: User, order: WorkOrder) -> Shortage:
    require_role(actor, order.site, Role.LOCKSMITH)
    cores = _waiting(OrderLine.objects.filter(order=order))
    demand = _demand_of(cores)
    return Shortage(len(cores), needs_at(order.site, demand), demand.untold)


def demand_at(site: Site) -> Demand:
    """The pins that all open pin orders of a site will take."""
    return _demand_of(_waiting(OrderLine.objects.filter(order__site=site)))


def _waiting(lines: QuerySet[OrderLine]) -> list[Core]:
    waiting = lines.filter(state=OrderLine.State.OPEN, order__kind=WorkOrder.Kind.PIN)
    return list(Core.objects.filter(order_lines__in=waiting).select_related("system").order_by("tag"))


def _demand_of(cores: Sequence[Core]) -> Demand:
    """A core counts as if built of new pins: those it holds now come back to the bins by hand."""
    plans = Plans(cores)
    pins: Counter[tuple[str, str, int]] = Counter()
    untold: list[str] = []
    for core in cores:
        try:
            planned = plans.of(core)
        except Refused:
            # Why, pinning tells: its reasons name cuts.
            untold.append(
                _("Core {core} cannot be pinned as it is keyed; its pins are not in these figures.").format(
                    core=core
                )
            )
            continue
        family = family_id(planned.format)
        pins.update({(family, role, size): count for (role, size), count in pins_in(planned).items()})
    return Demand(pins, tuple(untold))


class Plans:
    """`plan_of` for many cores in a fixed number of queries; every key is unsealed once."""

    def __init__(self, cores: Sequence[Core]) -> None:
        self._keyed: dict[UUID, list[KeySymbol]] = {core.pk: [] for core in cores}
        through = KeySymbol.cores.through.objects.filter(core__in=self._keyed)
        for keying in through.select_related("symbol", f"symbol__{LINE}"):
            self._keyed[keying.core_id].append(keying.symbol)
        systems = {core.system_id for core in cores}
        controls = KeySymbol.objects.filter(system__in=systems, kind=KeySymbol.Kind.CONTROL)
        self._controls = {control.system_id: control for control in controls}
        self._bittings: dict[UUID, str] = {}

    def of(self, core: Core) -> engine.Pinning:
        control = self._controls.get(core.system_id) if core.system_id else None
        return pins_for(core.format_id, self._keyed[core.pk], control, self._bitting)

    def _bitting(self, symbol: KeySymbol) -> str:
        if symbol.pk not in self._bittings:
            self._bittings[symbol.pk] = bitting_of(symbol)
        return self._bittings[symbol.pk]
