"""Two houses whose doors go from one master's keys to another's, with two spare cores."""

from dataclasses import dataclass, field
from typing import Any, Self

from keyctl.cores import services as cores
from keyctl.cores.models import Core
from keyctl.orders import services as orders
from keyctl.orders.models import OrderLine
from keyctl.orders.services.trying import let_go_untried
from keyctl.places.models import Floor, Housing
from keyctl.rotations import services
from keyctl.rotations.models import Rotation, RotationDoor, Wave
from keyctl.systems.models import KeySymbol, KeySystem
from tests import factories
from tests.cast import Cast
from tests.jobs import finish

# By house, the old keys of its doors.
DOORS = (("AA1", "AA1", "AA2"), ("AA1", "AA2", "AA3"))
NEW = {"AA1": "AB1", "AA2": "AB2", "AA3": "AB3"}


@dataclass
class Yard:
    cast: Cast
    system: KeySystem
    floors: list[Floor]
    housings: list[Housing] = field(default_factory=list)
    spares: list[Core] = field(default_factory=list)

    @classmethod
    def of(cls, cast: Cast, spares: int = 2) -> Self:
        levels = (((1, 2), 2), ((3, 4), 6))
        system = factories.make_system(cast.north, actor=cast.administrator, levels=levels)
        yard = cls(cast, system, [factories.make_floor(cast.north) for _ in DOORS])
        for floor, names in zip(yard.floors, DOORS, strict=True):
            for name in names:
                core = yard.core(name)
                housing = factories.make_housing(door=factories.make_door(floor=floor))
                factories.install(core, housing)
                yard.housings.append(housing)
        yard.spares = [yard.core("AA6", pinned=False) for _ in range(spares)]
        return yard

    def key(self, name: str) -> KeySymbol:
        return factories.symbol(self.system, name)

    def core(self, *names: str, pinned: bool = True) -> Core:
        return factories.make_core(
            actor=self.cast.locksmith,
            site=self.cast.north,
            system=self.system,
            symbols=[self.key(name) for name in names],
            pinned=pinned,
        )

    def start(self, **facts: Any) -> Rotation:
        facts.setdefault("keys", {self.key(old).pk: self.key(new) for old, new in NEW.items()})
        facts.setdefault("spares", {self.system.format_id: len(self.spares)})
        facts.setdefault("housings", self.housings)
        facts.setdefault("actor", self.cast.locksmith)
        return services.start_rotation(site=self.cast.north, title="Houses one and two", **facts)

    def plan(self, rotation: Rotation) -> Rotation:
        job = finish(services.start_plan(actor=self.cast.locksmith, rotation=rotation))
        assert job.state == job.State.DONE, job
        return fresh(rotation)

    def accepted(self, **facts: Any) -> Rotation:
        rotation = self.plan(self.start(**facts))
        services.accept_plan(actor=self.cast.locksmith, rotation=rotation, version=rotation.version)
        return fresh(rotation)

    def begin(self, rotation: Rotation) -> Wave:
        rotation = fresh(rotation)
        return services.begin_wave(actor=self.cast.locksmith, rotation=rotation, version=rotation.version)

    def pin(self, wave: Wave) -> None:
        for line in wave.pin_order.lines.filter(state="open") if wave.pin_order else ():
            pinned = orders.pin_line(actor=self.cast.locksmith, line=line)
            let_go_untried(actor=self.cast.locksmith, line=pinned, why="Tried at the door")

    def line(self, door: RotationDoor) -> OrderLine:
        return OrderLine.objects.get(housing=door.housing, state=OrderLine.State.OPEN)

    def swap(self, door: RotationDoor, put_at: str = "bench", core: Core | None = None) -> None:
        line = self.line(door)
        core = core or line.meant
        assert core is not None
        core.refresh_from_db()
        smith = self.cast.locksmith
        line = orders.choose_core(actor=smith, line=line, core=core)
        out = Core.objects.filter(housing=door.housing).first()
        orders.complete_swap(
            actor=smith,
            line=line,
            core_in_version=core.version,
            core_out_id=out.pk if out else None,
            put_at=put_at,
            operating_key_turned=True,
            control_key_came_out=True,
            egress_and_latch_tried=True,
        )

    def work(self, wave: Wave, **facts: Any) -> None:
        """Pin and swap all of it."""
        self.pin(wave)
        for door in wave.doors.to_do():
            self.swap(door, **facts)

    def all_waves(self, rotation: Rotation) -> Rotation:
        while fresh(rotation).state == Rotation.State.WORKING:
            self.work(self.begin(rotation))
        return fresh(rotation)

    def move_core(self, core: Core, place: str) -> None:
        core.refresh_from_db()
        cores.move_core(actor=self.cast.locksmith, core=core, version=core.version, place=place)


def fresh(rotation: Rotation) -> Rotation:
    return Rotation.objects.with_names().get(pk=rotation.pk)
