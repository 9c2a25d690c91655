"""A small estate with keys to lose: one system, doors of several classes, copies at the desk."""

from dataclasses import dataclass
from typing import Any, Self

from keyctl.cores.models import Core
from keyctl.keys import services as keys
from keyctl.keys.models import Cabinet, Holder, KeyCopy
from keyctl.losses.models import CaseDoor, LossCase
from keyctl.losses.selectors import doors_of
from keyctl.places.models import Building, Floor, Housing, Site
from keyctl.systems.models import KeySymbol, KeySystem
from tests import factories
from tests.cast import Cast


@dataclass
class Estate:
    cast: Cast
    system: KeySystem
    cabinet: Cabinet
    floor: Floor

    @classmethod
    def of(cls, cast: Cast) -> Self:
        system = factories.make_system(cast.north, actor=cast.administrator, keyway="WIDE")
        return cls(cast, system, factories.make_cabinet(cast.north), factories.make_floor(cast.north))

    @property
    def building(self) -> Building:
        return self.floor.building

    def key(self, name: str) -> KeySymbol:
        return factories.symbol(self.system, name)

    def core(self, *names: str, site: Site | None = None) -> Core:
        symbols = [self.key(name) for name in names or ("AA1",)]
        return factories.make_core(
            actor=self.cast.locksmith, site=site or self.cast.north, system=self.system, symbols=symbols
        )

    def door(self, *names: str, floor: Floor | None = None, kind: str = "mortise", **facts: Any) -> Core:
        """A door with a core that is keyed to these symbols; the core is returned."""
        door = factories.make_door(floor=floor or self.floor, **facts)
        housing = factories.make_housing(door=door, kind=kind)
        core = self.core(*names)
        core.site = door.site
        core.save(update_fields=["site"])
        return factories.install(core, housing)

    def copies(self, name: str, count: int = 1) -> list[KeyCopy]:
        return [factories.make_copy(self.key(name), self.cabinet) for _ in range(count)]

    def held(self, name: str, holder: Holder | None = None) -> KeyCopy:
        """A copy that somebody has, by the desk."""
        (copy,) = self.copies(name)
        holder = holder or factories.make_holder(self.cast.north)
        keys.hand_out(actor=self.cast.desk, copy=copy, holder=holder, signed_as=holder.name)
        copy.refresh_from_db()
        return copy

    def lose(self, copy: KeyCopy, note: str = "Lost on the way home") -> LossCase:
        keys.report_lost(actor=self.cast.desk, copy=copy, note=note)
        return LossCase.objects.get(lost_copies__copy=copy, lost_copies__found_at__isnull=True)

    def find(self, copy: KeyCopy) -> None:
        keys.take_back(actor=self.cast.desk, copy=copy, cabinet=self.cabinet)


def routes(case: LossCase) -> dict[str, str]:
    """By the tag of the core, the route."""
    case.refresh_from_db()
    return {row.core.tag: row.route for row in doors_of(case).select_related("core")}


def row_of(case: LossCase, core: Core) -> CaseDoor:
    case.refresh_from_db()
    return doors_of(case).get(core=core)


def housing_of(core: Core) -> Housing:
    assert core.housing
    return core.housing
