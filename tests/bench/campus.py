"""A campus of so many doors in the database: everything that programs read, written in bulk in a minute.

A building has 250 doors and a key system of its own: a top key, five masters, a change key for each door. Of
each change key one copy is cut; every other one is out. Five sites share the buildings; a sixth has just one.
Nothing is sealed: whoever reads here opens no secret.
"""

from collections.abc import Iterator, Sequence
from itertools import count
from typing import Any

from django.db import connection, models, transaction
from django.utils import timezone

from keyctl.accounts.models import User
from keyctl.approvals.models import KeyRequest
from keyctl.audit.services import new_event, record_many
from keyctl.cores.models import Core, Keying, Turn
from keyctl.keys.models import Cabinet, Custody, DeskSettings, Handover, Holder, KeyCopy
from keyctl.orders.models import OrderLine, WorkOrder
from keyctl.places.models import Building, Door, Floor, Housing, Identifier, Membership, Site, Space
from keyctl.places.roles import Role
from keyctl.systems.models import KeySymbol, KeySystem

BATCH = 2000
SITES = 5
IN_BUILDING, ON_FLOOR, MASTERS, IN_ORDER = 250, 50, 5, 4
NOTHING_SEALED = b"nothing"


def build(doors: int, first: Site | None = None) -> User:
    """Who administers all of it. Where a first site is there already, its things have low numbers."""
    maker = User.objects.create_user("maker", display_name="Maker")
    sites = Site.objects.bulk_create(Site(code=f"S{nth}", name=f"Site {nth}") for nth in range(SITES + 1))
    sites[0] = first or sites[0]
    Membership.objects.bulk_create(
        Membership(user=maker, site=site, role=Role.ADMINISTRATOR) for site in sites
    )
    cabinets = Cabinet.objects.bulk_create(Cabinet(site=site, name="Desk") for site in sites)
    numbers = count(1000 if first else 1)
    desks = [_Desk(site) for site in sites]
    for nth in range(doors // IN_BUILDING - 1):
        _House(desks[nth % SITES], cabinets[nth % SITES], maker, numbers).write()
    _House(desks[SITES], cabinets[SITES], maker, numbers).write()
    for desk in desks:
        desk.close()
    return maker


class _Desk:
    """A site, and the numbers of its acts, which follow one another without a gap."""

    def __init__(self, site: Site) -> None:
        self.site = site
        self.last = DeskSettings.objects.filter(site=site).values_list("last_number", flat=True).first() or 0

    def next_number(self) -> int:
        self.last += 1
        return self.last

    def close(self) -> None:
        DeskSettings.objects.update_or_create(site=self.site, defaults={"last_number": self.last})


class _House:
    """One building with all that hangs on it, each kind of row in one statement or a few."""

    def __init__(self, desk: _Desk, cabinet: Cabinet, maker: User, numbers: Iterator[int]) -> None:
        self.desk, self.site = desk, desk.site
        self.cabinet, self.maker, self.numbers = cabinet, maker, numbers
        self.nth = next(numbers)

    @transaction.atomic
    def write(self) -> None:
        self._places()
        self._keys()
        self._cores()
        self._people()
        self._work()
        self._history()

    def _places(self) -> None:
        code = f"B{self.nth}"
        self.building = Building.objects.create(site=self.site, code=code, name=f"House {self.nth}")
        floors = _kept(
            Floor(building=self.building, label=f"Level {level}", level=level)
            for level in range(IN_BUILDING // ON_FLOOR)
        )
        places = [(floors[nth // ON_FLOOR], f"{nth:03}") for nth in range(IN_BUILDING)]
        spaces = _kept(Space(floor=floor, number=number, name=f"Room {number}") for floor, number in places)
        self.doors = _kept(
            Door(floor=floor, number=number, name=f"Room {number}", is_egress=number.endswith("0"))
            for floor, number in places
        )
        _kept(
            Door.spaces.through(door=door, space=space)
            for door, space in zip(self.doors, spaces, strict=True)
        )
        _kept(
            Identifier(site=self.site, source="GlobalId", kind="door", value=str(door.pk), door=door)
            for door in self.doors
        )
        self.housings = _kept(
            Housing(door=door, kind="mortise", construction="small-format") for door in self.doors
        )

    def _keys(self) -> None:
        self.system = KeySystem.objects.create(
            code=f"KS{self.nth}",
            name=f"System {self.nth}",
            format_id="small-a2-7",
            keyway=f"W{self.nth}",
            levels=3,
            created_by=self.maker,
        )
        self.system.sites.add(self.site)
        self.control, self.top = _kept(
            [self._symbol("CTL", "control", level=None), self._symbol("A", "master", level=0)]
        )
        self.masters = _kept(
            self._symbol(f"A{nth}", "master", level=1, parent=self.top, ordinal=nth) for nth in range(MASTERS)
        )
        self.changes = _kept(
            self._symbol(
                f"A{nth % MASTERS}-{nth}", "change", 2, parent=self.masters[nth % MASTERS], ordinal=nth
            )
            for nth in range(IN_BUILDING)
        )

    def _symbol(self, symbol: str, kind: str, level: int | None, **facts: Any) -> KeySymbol:
        return KeySymbol(
            system=self.system,
            symbol=symbol,
            kind=kind,
            level=level,
            bitting=NOTHING_SEALED,
            fingerprint=f"{self.nth}-{symbol}",
            **facts,
        )

    def _cores(self) -> None:
        about = {"site": self.site, "system": self.system, "format_id": "small-a2-7"}
        pinned = {"pinning": NOTHING_SEALED, "pinned_at": timezone.now(), "pinned_by": self.maker}
        self.cores = _kept(
            Core(**about, **pinned, construction="small-format", place="housing", housing=housing)
            for housing in self.housings
        )
        pairs = list(zip(self.cores, self.changes, strict=True))
        _kept(Keying(core=core, symbol=change) for core, change in pairs)
        turning = [(core, key) for core, change in pairs for key in (change, self.masters[0], self.top)]
        _kept(Turn(core=core, symbol=key, operates=True, withdraws=False) for core, key in turning)
        _kept(Turn(core=core, symbol=self.control, operates=False, withdraws=True) for core in self.cores)

    def _people(self) -> None:
        """A holder has five copies out; the others hang in the cabinet."""
        self.holders = _kept(
            Holder(site=self.site, name=f"Holder {self.nth}-{nth}") for nth in range(IN_BUILDING // 10)
        )
        acts = _kept(
            Handover(
                site=self.site,
                number=self.desk.next_number(),
                way="out",
                holder=holder,
                by=self.maker,
                signed_as="x",
                sign_way="typed",
            )
            for holder in self.holders
        )
        about = {"site": self.site}
        copies, lines = [], []
        for nth, change in enumerate(self.changes):
            copy = KeyCopy(**about, symbol=change, state="in-cabinet", cabinet=self.cabinet)
            if nth % 2:
                act = acts[nth // 2 % len(acts)]
                line = Custody(copy=copy, holder=act.holder, handed_out_by=self.maker, out_act=act)
                copy.state, copy.cabinet, copy.holder, copy.custody = "held", None, act.holder, line
                lines.append(line)
            copies.append(copy)
        _kept(copies)
        _kept(lines)

    def _work(self) -> None:
        """One door in twenty is asked for, one core in five stands in an order."""
        asked = self.doors[::20]
        requests = _kept(
            KeyRequest(
                building=self.building,
                holder=self.holders[nth % len(self.holders)],
                requester=self.maker,
                reason="Work",
            )
            for nth in range(len(asked))
        )
        joins = zip(requests, asked, strict=True)
        _kept(KeyRequest.doors.through(keyrequest=request, door=door) for request, door in joins)
        orders = _kept(
            WorkOrder(
                number=next(self.numbers), site=self.site, kind="swap", title="Swap", opened_by=self.maker
            )
            for _ in range(IN_BUILDING // 20)
        )
        _kept(
            OrderLine(order=order, ordinal=nth, housing=self.housings[place * IN_ORDER + nth])
            for place, order in enumerate(orders)
            for nth in range(IN_ORDER)
        )

    def _history(self) -> None:
        record_many(
            (
                new_event(
                    actor=self.maker, verb="door.added", sentence=f"added door {door}", site_id=self.site.pk
                ),
                [door],
            )
            for door in self.doors
        )


def _kept(rows: Any) -> Sequence[Any]:
    """In one statement that is run for each row: to have it put together anew took half of the time."""
    made: list[models.Model] = list(rows)
    about = made[0]._meta
    fields = [field for field in about.concrete_fields if not isinstance(field, models.AutoField)]
    columns = ", ".join(connection.ops.quote_name(field.column or "") for field in fields)
    table, marks = connection.ops.quote_name(about.db_table), ", ".join(["%s"] * len(fields))
    values = [
        [field.get_db_prep_save(getattr(row, field.attname), connection) for field in fields] for row in made
    ]
    with connection.cursor() as cursor:
        cursor.executemany(f"INSERT INTO {table} ({columns}) VALUES ({marks})", values)  # noqa: S608 (our names)
    return made
