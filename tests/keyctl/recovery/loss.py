"""A lost control key at the north site: a system of each construction, cores, cases and what is read of them.

Systems, cores and people are invented.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal

from keyctl import engine
from keyctl.accounts.models import User
from keyctl.cores.models import Core
from keyctl.cores.turning import pins_of
from keyctl.places.models import Site
from keyctl.places.roles import Role
from keyctl.recovery import services
from keyctl.recovery.models import ControlBlank, ControlKeyCase, CoreReading
from keyctl.systems.models import KeySymbol, KeySystem
from keyctl.systems.selectors import control_of
from keyctl.systems.services import bitting_of
from tests import factories
from tests.cast import Cast
from tests.signing import proven

NOTE = "Not on the hook on Monday."
Pins = list[tuple[Decimal, ...]]


@dataclass
class Loss:
    cast: Cast
    system: KeySystem

    @property
    def smith(self) -> User:
        return self.cast.locksmith

    @property
    def site(self) -> Site:
        return self.cast.north

    def core(self, nth: int = 0, *, pinned: bool = True, system: KeySystem | None = None) -> Core:
        system = system or self.system
        symbols = [factories.change_key(system, nth)]
        return factories.make_core(
            actor=self.smith, site=self.site, system=system, symbols=symbols, pinned=pinned
        )

    def case(self) -> ControlKeyCase:
        return services.open_case(
            actor=self.smith, site=self.site, system=self.system, note=NOTE, officer_told=True
        )

    def read(
        self, case: ControlKeyCase, core: Core, pins: Pins | None = None, actor: User | None = None
    ) -> CoreReading:
        return services.read_core(
            actor=actor or self.smith, case=case, version=now(case), core=core, pins=pins or sizes(core)
        )

    def agreed(self) -> ControlKeyCase:
        """Two cores of the system read, which agree."""
        case = self.case()
        self.read(case, self.core(0))
        self.read(case, self.core(1))
        return fresh(case)

    def approve(self, case: ControlKeyCase) -> ControlKeyCase:
        services.approve_control_key(actor=self.cast.officer, case=case, version=now(case))
        return fresh(case)

    def show(self, case: ControlKeyCase, actor: User | None = None) -> services.ControlKey:
        return services.show_control_key(
            actor=actor or self.smith, sign_in=proven(actor or self.smith), case=case, version=now(case)
        )

    def blanks(self, number: int = 3) -> ControlBlank:
        blank = services.register_blanks(actor=self.smith, site=self.site, keyway=self.system.keyway)
        if number:
            blank = services.receive_blanks(
                actor=self.smith, blank=blank, version=blank.version, number=number
            )
        return blank

    def chosen(self) -> ControlKeyCase:
        """A case in which a working key of a core is chosen to be copied."""
        case, core = self.case(), self.core()
        services.choose_core(actor=self.smith, case=case, version=now(case), core=core)
        symbol = factories.change_key(self.system)
        services.choose_key(actor=self.smith, case=case, version=now(case), symbol=symbol)
        return fresh(case)

    def cut(self, case: ControlKeyCase, *, show_cuts: bool = False) -> services.CutKey:
        return services.cut_blank(
            actor=self.smith, sign_in=proven(self.smith), case=case, version=now(case), show_cuts=show_cuts
        )

    def control(self) -> str:
        symbol = control_of(self.system)
        assert symbol is not None
        return bitting_of(symbol)

    def second_officer(self) -> User:
        return factories.make_user("second-officer", site=self.site, role=Role.OFFICER)

    def second_smith(self) -> User:
        return factories.make_user("second-smith", site=self.site, role=Role.LOCKSMITH)


def set_up(cast: Cast, format_id: str) -> Loss:
    return Loss(cast, factories.make_system(cast.north, actor=cast.administrator, format_id=format_id))


def fresh(case: ControlKeyCase) -> ControlKeyCase:
    return ControlKeyCase.objects.with_names().get(pk=case.pk)


def now(case: ControlKeyCase) -> int:
    """The version that a page opened this moment would carry."""
    return fresh(case).version


def sizes(core: Core) -> Pins:
    """The pins of a core as somebody writes them who takes them out, in kit numbers."""
    return [tuple(Decimal(size) for _, size in stack.pins) for stack in pins_of(core).stacks]


def inches(core: Core, off: str = "0") -> Pins:
    """The same by micrometer, each pin ``off`` inches longer than its size."""
    chosen = engine.load_format(core.format_id)
    step = Decimal(str(chosen.increment_in))
    lowest = Decimal(str(chosen.base_pin_in)) - chosen.depth_values[0] * step
    return [
        tuple(size * step + (lowest if at == 0 else 0) + Decimal(off) for at, size in enumerate(stack))
        for stack in sizes(core)
    ]


def altered(pins: Pins, position: int, stack: Sequence[int]) -> Pins:
    return [*pins[: position - 1], tuple(map(Decimal, stack)), *pins[position:]]


def with_other_control(pins: Pins, position: int, by: int) -> Pins:
    """Another control cut in one position: a longer control pin under a shorter top pin."""
    stack = [int(size) for size in pins[position - 1]]
    stack[-2] += by
    stack[-1] -= by
    return altered(pins, position, stack)


def secrets_of(loss: Loss) -> list[str]:
    """Every bitting of the system, none of which may stand on a page."""
    return [bitting_of(symbol) for symbol in KeySymbol.objects.filter(system=loss.system)]
