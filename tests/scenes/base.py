"""What several apps' routes rest on: a key system, a pinned core in a door, a key of it, people."""

from dataclasses import dataclass

from keyctl.cores.models import Core
from keyctl.keys.models import Cabinet, Holder, KeyCopy
from keyctl.places.models import BuildingManager, Housing
from keyctl.systems.models import KeySymbol, KeySystem
from tests import factories
from tests.cast import Cast


@dataclass(frozen=True)
class Base:
    cast: Cast
    system: KeySystem
    change: KeySymbol
    core: Core
    housing: Housing
    holder: Holder
    cabinet: Cabinet
    copy: KeyCopy

    def name(self, word: str) -> str:
        """A word of this site's own, where all sites share what is named by it."""
        return f"{word}-{self.cast.north.code.lower()}"


def build_base(cast: Cast) -> Base:
    system = factories.make_system(cast.north, actor=cast.administrator)
    housing = factories.make_housing(cast.north)
    core = factories.make_core(actor=cast.locksmith, site=cast.north, system=system)
    factories.install(core, housing)
    BuildingManager.objects.create(building=housing.door.building, user=cast.manager)
    cabinet = factories.make_cabinet(cast.north)
    change = factories.change_key(system)
    return Base(
        cast=cast,
        system=system,
        change=change,
        core=core,
        housing=housing,
        holder=factories.make_holder(cast.north, user=cast.requester),
        cabinet=cabinet,
        copy=factories.make_copy(change, cabinet),
    )
