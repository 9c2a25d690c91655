"""The rows that the worlds of a test stand on: people, tablets, doors, cores and swap orders of one site."""

from dataclasses import dataclass
from datetime import timedelta
from random import Random
from uuid import UUID

from django.utils import timezone

from keyctl.accounts.models import User
from keyctl.cores.models import Core
from keyctl.field.models import Device, DeviceUser
from keyctl.orders.models import OrderLine, WorkOrder
from keyctl.places.models import Building, Door, Floor, Housing, Membership, Site
from keyctl.places.roles import Role
from tests.keyctl.field.simulator.book import Spot
from tests.keyctl.field.simulator.stage import Stage

# Names drawn from one seed, so that a world is the same in every run.
NAMES = 2026


@dataclass(frozen=True)
class Ground:
    office: User
    people: dict[str, User]
    devices: dict[str, Device]
    housings: dict[str, Housing]
    cores: dict[str, Core]
    lines: dict[str, OrderLine]

    def stage(self) -> Stage:
        return Stage(
            people=tuple(self.people),
            devices=tuple(self.devices),
            spots={tag: spot_of(core) for tag, core in self.cores.items()},
            versions={tag: core.version for tag, core in self.cores.items()},
            fit=frozenset(tag for tag, core in self.cores.items() if core.is_pinned),
            lines={pk: str(line.housing_id) for pk, line in self.lines.items()},
            housings=tuple(self.housings),
        )


def spot_of(core: Core) -> Spot:
    return (core.place, str(core.housing_id or core.carrier_id or ""))


def lay_ground() -> Ground:
    rng = Random(NAMES)
    site = Site.objects.create(pk=drawn(rng), code="SIM", name="Invented site")
    office, *people = [_person(rng, site, name) for name in ("office", "ada", "ben", "cleo")]
    devices = Device.objects.bulk_create(
        Device(pk=drawn(rng), name=f"Tablet {n}", site=site, owner=people[0], digest="0" * 64)
        for n in range(4)
    )
    # Everybody has been signed in on every tablet but the last: of that one's facts the sender answers.
    known = [DeviceUser(device=device, user=user) for device in devices[:3] for user in people]
    DeviceUser.objects.bulk_create(known)
    housings = _housings(rng, site)
    cores = _cores(rng, site, people, housings[:6])
    lines = _lines(rng, site, office, housings[:5])
    return Ground(
        office=office,
        people={str(user.pk): user for user in people},
        devices={str(device.pk): device for device in devices},
        housings={str(housing.pk): housing for housing in housings},
        cores={core.tag: core for core in cores},
        lines={str(line.pk): line for line in lines},
    )


def drawn(rng: Random) -> UUID:
    return UUID(int=rng.getrandbits(128), version=4)


def _person(rng: Random, site: Site, name: str) -> User:
    user = User.objects.create(pk=drawn(rng), username=name, display_name=name.title(), password="!")
    roles = [Role.LOCKSMITH, *([Role.ADMINISTRATOR] if name == "office" else [])]
    Membership.objects.bulk_create(Membership(user=user, site=site, role=role) for role in roles)
    return user


def _housings(rng: Random, site: Site) -> list[Housing]:
    """Eight, two of them on one door."""
    floor = Floor.objects.create(
        building=Building.objects.create(site=site, code="A", name="House A"), label="0", level=0
    )
    doors = Door.objects.bulk_create(Door(pk=drawn(rng), floor=floor, number=f"{n:03}") for n in range(7))
    return Housing.objects.bulk_create(
        Housing(
            pk=drawn(rng),
            door=doors[n % 7],
            kind=Housing.Kind.MORTISE,
            construction="small-format",
            label=f"Lock {n}",
        )
        for n in range(8)
    )


def _cores(rng: Random, site: Site, people: list[User], housings: list[Housing]) -> list[Core]:
    """One in each of the housings; free ones on shelf and bench and in each case, one without pins."""
    places = [{"place": "housing", "housing": housing} for housing in housings]
    places += [{"place": place} for place in ("shelf", "bench") * 3]
    places += [{"place": "case", "carrier": user} for user in people]
    pins = {"pinning": b"sealed", "pinned_at": timezone.now() - timedelta(days=9), "pinned_by": people[0]}
    made = []
    for n, where in enumerate(places):
        facts = where | ({} if n == len(housings) else pins)
        tag = "".join(rng.choice("23456789BCDFGHJK") for _ in range(12))
        made.append(
            Core(pk=drawn(rng), tag=tag, site=site, version=n % 3 + 1, format_id="small-a2-7", **facts)
        )
        made[-1].construction = "small-format"
    return Core.objects.bulk_create(made)


def _lines(rng: Random, site: Site, office: User, housings: list[Housing]) -> list[OrderLine]:
    """Three orders: two doors, two doors, one."""
    orders = WorkOrder.objects.bulk_create(
        WorkOrder(
            pk=drawn(rng), number=n, site=site, kind=WorkOrder.Kind.SWAP, title=f"Round {n}", opened_by=office
        )
        for n in (1, 2, 3)
    )
    return OrderLine.objects.bulk_create(
        OrderLine(pk=drawn(rng), order=orders[n // 2], ordinal=n % 2 + 1, housing=housing)
        for n, housing in enumerate(housings)
    )
