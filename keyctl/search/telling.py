"""A hit as a person reads it: from the thing as it stands now, fetched through the rule of its own app."""

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from typing import Any, Final
from uuid import UUID

from django.db import DatabaseError
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from keyctl.accounts.models import User
from keyctl.approvals.models import KeyRequest
from keyctl.cores.models import Core
from keyctl.keys.models import Cabinet, Holder, KeyCopy, Person
from keyctl.lib.days import day
from keyctl.lib.tags import grouped
from keyctl.orders.models import WorkOrder
from keyctl.places.access import visible_sites
from keyctl.places.models import Building, Door, Space
from keyctl.search.access import live, reach_of
from keyctl.search.selectors import Hit, find
from keyctl.search.services import bring_up_to_date
from keyctl.systems.models import KeySymbol, KeySystem

ON_A_PAGE: Final = 50
# Some may go while they are fetched, or be closed to the reader by their own app's finer rule.
FETCHED: Final = 150

LABELS: Final = {
    "door": gettext_lazy("Doors"),
    "space": gettext_lazy("Rooms"),
    "building": gettext_lazy("Buildings"),
    "core": gettext_lazy("Cores"),
    "key": gettext_lazy("Keys"),
    "key-copy": gettext_lazy("Key copies"),
    "key-system": gettext_lazy("Key systems"),
    "cabinet": gettext_lazy("Cabinets"),
    "holder": gettext_lazy("Holders"),
    "person": gettext_lazy("People"),
    "member": gettext_lazy("People who sign in"),
    "work-order": gettext_lazy("Work orders"),
    "request": gettext_lazy("Requests"),
}


@dataclass(frozen=True)
class Told:
    """``is_code``: its name is a number, a tag or a symbol, read sign by sign."""

    kind: str
    thing: UUID
    title: str
    detail: str
    url: str
    is_code: bool = False
    is_whole: bool = False


@dataclass(frozen=True)
class Group:
    label: str
    kind: str
    rows: list[Told]


@dataclass(frozen=True)
class Answer:
    text: str
    rows: list[Told]
    # What has some of the words, where nothing has all.
    near: list[Told]
    # What this person's search looks through.
    looked_at: list[str]
    is_cut: bool
    is_current: bool

    @property
    def groups(self) -> list[Group]:
        """The kind of the best hit first; within each as they were ranked."""
        return _grouped(self.rows)

    @property
    def near_groups(self) -> list[Group]:
        return _grouped(self.near)

    @property
    def only(self) -> Told | None:
        """What alone carries the whole of what was typed."""
        whole = [row for row in self.rows if row.is_whole]
        return whole[0] if len(whole) == 1 else None


def answer(actor: User, typed: str, most: int = ON_A_PAGE) -> Answer:
    current = is_current()
    reach = reach_of(actor)
    found = find(reach, typed)
    tell = _Teller(actor)
    rows = tell.all(found.hits[:FETCHED])
    looked_at = [str(label) for kind, label in LABELS.items() if reach.sites.get(kind)]
    return Answer(found.asked.text, rows[:most], tell.all(found.near), looked_at, len(rows) > most, current)


def is_current() -> bool:
    """Where nothing can be written, what is known is searched all the same."""
    try:
        return bring_up_to_date()
    except DatabaseError:
        return False


def _grouped(rows: Iterable[Told]) -> list[Group]:
    groups: dict[str, Group] = {}
    for row in rows:
        groups.setdefault(row.kind, Group(str(LABELS[row.kind]), row.kind, [])).rows.append(row)
    return list(groups.values())


class _Teller:
    def __init__(self, actor: User) -> None:
        self._actor = actor
        self._staffed: set[UUID] | None = None

    def all(self, hits: list[Hit]) -> list[Told]:
        things: dict[tuple[str, UUID], Any] = {}
        for kind in {hit.kind for hit in hits}:
            rows = live(self._actor, kind, {hit.thing for hit in hits if hit.kind == kind})
            things |= {(kind, row.pk): row for row in rows}
        there = [(hit, things[hit.kind, hit.thing]) for hit in hits if (hit.kind, hit.thing) in things]
        return [self._told(hit, row) for hit, row in there]

    def _told(self, hit: Hit, row: Any) -> Told:
        title, detail = WORDS[hit.kind](row)
        is_code = hit.kind in {"core", "key", "key-copy"}
        return Told(
            hit.kind, hit.thing, title, detail, self._url(hit, row), is_code, is_whole=hit.rank.tier == 0
        )

    def _url(self, hit: Hit, row: Any) -> str:
        """Whoever does not work with the estate is led to where they may ask for keys to it."""
        if hit.kind in {"door", "building"} and hit.site not in self._staffed_sites():
            return reverse("approvals:ask-building", args=[_building(row).pk])
        if hit.kind == "building":
            return f"{reverse('cores:estate')}?building={row.pk}"
        if hit.kind == "member":
            return reverse("places:people")
        return reverse(PAGES[hit.kind], args=[row.pk])

    def _staffed_sites(self) -> set[UUID]:
        if self._staffed is None:
            self._staffed = set(visible_sites(self._actor).order_by().values_list("pk", flat=True))
        return self._staffed


def _building(row: "Door | Building") -> Building:
    return row.building if isinstance(row, Door) else row


PAGES: Final = {
    "door": "cores:door",
    "space": "places:space",
    "core": "cores:detail",
    "key": "cores:symbol",
    "key-copy": "keys:copy",
    "key-system": "systems:detail",
    "cabinet": "keys:cabinet",
    "holder": "keys:holder",
    "person": "directory:person",
    "work-order": "orders:detail",
    "request": "approvals:detail",
}

Words = tuple[str, str]


def _door(door: Door) -> Words:
    return f"{door} {door.name}".strip(), f"{door.building}, {door.floor}, {door.site}"


def _space(space: Space) -> Words:
    return f"{space.floor.building.code} {space}", f"{space.floor.building}, {space.floor}, {space.site}"


def _house(building: Building) -> Words:
    return f"{building.code} {building.name}", str(building.site)


def _core(core: Core) -> Words:
    place = str(core.housing) if core.housing else core.get_place_display()
    return str(core), f"{place}, {core.site}"


def _key(symbol: KeySymbol) -> Words:
    return symbol.symbol, f"{symbol.get_kind_display()}, {symbol.system}"


def _copy(copy: KeyCopy) -> Words:
    stamp = _("stamped {stamp}").format(stamp=copy.stamp) if copy.stamp else ""
    words = (f"{copy.symbol} ({copy.symbol.system.code})", copy.get_state_display(), stamp, str(copy.site))
    return str(copy), ", ".join(word for word in words if word)


def _system(system: KeySystem) -> Words:
    return f"{system.code} {system.name}", ""


def _cabinet(cabinet: Cabinet) -> Words:
    return cabinet.name, f"{grouped(cabinet.tag)}, {cabinet.site}"


def _holder(holder: Holder) -> Words:
    return holder.name, ", ".join(word for word in (holder.department, str(holder.site)) if word)


def _person(person: Person) -> Words:
    return person.display_name, person.department


def _order(order: WorkOrder) -> Words:
    title = _("Order {number}: {title}").format(number=order.number, title=order.title)
    return title, f"{order.get_state_display()}, {order.site}"


def _request(request: KeyRequest) -> Words:
    title = _("{holder}, for {building}").format(holder=request.holder, building=request.building)
    asked = day(timezone.localtime(request.asked_at))
    return title, f"{request.get_state_display()}, {asked}, {request.building.site}"


WORDS: Final[dict[str, Callable[[Any], Words]]] = {
    "door": _door,
    "space": _space,
    "building": _house,
    "core": _core,
    "key": _key,
    "key-copy": _copy,
    "key-system": _system,
    "cabinet": _cabinet,
    "holder": _holder,
    "person": _person,
    "member": lambda user: (str(user), user.username),
    "work-order": _order,
    "request": _request,
}
