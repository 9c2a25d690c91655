"""A workshop at the north site: a key system, cores and doors as a test of orders needs them."""

from dataclasses import dataclass
from typing import Any

from keyctl.accounts.models import User
from keyctl.cores.models import Core
from keyctl.orders import services
from keyctl.orders.models import OrderLine, WorkOrder
from keyctl.places.models import Housing, Site
from keyctl.systems.models import KeySystem
from tests import factories
from tests.cast import Cast


@dataclass(frozen=True)
class Workshop:
    cast: Cast
    system: KeySystem

    @property
    def smith(self) -> User:
        return self.cast.locksmith

    @property
    def site(self) -> Site:
        return self.cast.north

    def core(self, *, pinned: bool = True, nth: int = 0) -> Core:
        symbols = [factories.change_key(self.system, nth)]
        return factories.make_core(
            actor=self.smith, site=self.site, system=self.system, symbols=symbols, pinned=pinned
        )

    def foreign_core(self) -> Core:
        return factories.make_core(actor=self.cast.stranger, site=self.cast.south, system=self.system)

    def housing(self, **facts: Any) -> Housing:
        return factories.make_housing(self.site, **facts)

    def furnished(self) -> tuple[Housing, Core]:
        """A housing with a core in it."""
        housing = self.housing()
        return housing, factories.install(self.core(), housing)

    def pin_order(self, *cores: Core, title: str = "Bench work") -> WorkOrder:
        chosen = cores or (self.core(pinned=False),)
        return services.open_pin_order(actor=self.smith, site=self.site, title=title, cores=chosen)

    def swap_order(self, *housings: Housing) -> WorkOrder:
        chosen = housings or (self.housing(),)
        return services.open_swap_order(actor=self.smith, site=self.site, title="Door work", housings=chosen)

    def swap_line(self, housing: Housing | None = None, core: Core | None = None) -> OrderLine:
        """A line whose core that goes in is chosen."""
        line = only_line(self.swap_order(*([housing] if housing else [])))
        return services.choose_core(actor=self.smith, line=line, core=core or self.core())


def set_up(cast: Cast) -> Workshop:
    return Workshop(cast, factories.make_system(cast.north, cast.south, actor=cast.administrator))


def only_line(order: WorkOrder) -> OrderLine:
    return order.lines.get()


def complete(line: OrderLine, actor: User, **facts: Any) -> OrderLine:
    """Finish the swap as the page would, with every check good unless the test says otherwise."""
    given: dict[str, Any] = {
        "core_in_version": line.core.version if line.core else None,
        "core_out_id": None,
        "put_at": Core.Place.BENCH,
        "operating_key_turned": True,
        "control_key_came_out": True,
        "egress_and_latch_tried": True,
    }
    return services.complete_swap(actor=actor, line=line, **(given | facts))
