"""The small world that the machine plays in: made once a test, and left as it was after each game."""

import re
from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Any
from uuid import UUID

from django.core.exceptions import PermissionDenied
from django.db.models import QuerySet
from django.utils import timezone

from keyctl.accounts.models import User
from keyctl.cores.models import Core, Turn
from keyctl.keys.models import Cabinet, Custody, Holder, KeyCopy
from keyctl.lib.errors import Refused
from keyctl.places.models import BuildingManager, Door, Floor, Membership
from keyctl.places.roles import Role
from keyctl.systems.models import KeySymbol
from tests import factories
from tests.cast import Cast
from tests.keyctl.keys.keyroom import bare_key, bare_system
from tests.keyctl.machine.asked import ask
from tests.keyctl.machine.book import CABINET, HELD, Book, Key, Taker


@dataclass
class World:
    cast: Cast
    people: dict[str, User]
    symbols: list[KeySymbol]
    holders: list[Holder]
    cabinets: list[Cabinet]
    # What may be asked for: a key by its number, and the doors that it opens best.
    wishes: list[tuple[int, list[Door]]]
    copies: list[KeyCopy] = field(default_factory=list)

    def open_book(self) -> Book:
        """The book of a world in which nothing was cut yet."""
        self.copies = []
        north, names = self.cast.north.pk, {user.pk: name for name, user in self.people.items()}
        takers = [
            Taker(holder.site_id == north, holder.is_active, names[holder.user_id] if holder.user_id else "")
            for holder in self.holders
        ]
        return Book(takers=takers, cabinets=[each.site_id == north for each in self.cabinets])

    def compare(self, book: Book) -> None:
        """Copies and open lines of the database against the book, one by one, and the law counted anew."""
        copies = {pk: tuple(facts) for pk, *facts in ask("copies", copies_with_places)}
        lines = {copy: (pk, holder) for pk, copy, holder in ask("lines", open_lines)}
        assert len(copies) == len(book.keys) == len(self.copies)
        for copy, key in zip(self.copies, book.keys, strict=True):
            line, holder = lines.pop(copy.pk, (None, None))
            assert copies[copy.pk] == (*self._written(key, holder), line)
        assert not lines
        assert Counter((symbol, state) for symbol, state, *_ in copies.values()) == Counter(
            (self.symbols[key.symbol].pk, key.place) for key in book.keys
        )

    def _written(self, key: Key, line_holder: UUID | None) -> tuple[object, ...]:
        """The columns of a copy as the book has it; the line must name the holder that the book knows."""
        holder = self.holders[key.at].pk if key.place == HELD and key.at is not None else None
        cabinet = self.cabinets[key.at].pk if key.place == CABINET and key.at is not None else None
        assert line_holder == holder
        condition = "broken" if key.broken else "sound"
        return self.symbols[key.symbol].pk, key.place, holder, cabinet, condition


def copies_with_places() -> QuerySet[Any, Any]:
    return KeyCopy.objects.order_by().values_list(
        "pk", "symbol", "state", "holder", "cabinet", "condition", "custody"
    )


def open_lines() -> QuerySet[Any, Any]:
    return Custody.objects.filter(ended_at__isnull=True).order_by().values_list("pk", "copy", "holder")


def build_world(cast: Cast) -> World:
    second = factories.make_user("second-clerk", site=cast.north, role=Role.KEY_DESK)
    # A clerk of one site is nobody at the other.
    Membership.objects.create(user=cast.desk, site=cast.south, role=Role.REQUESTER)
    system = bare_system(cast.north, actor=cast.administrator)
    symbols = [
        bare_key(system, "AA1"),
        bare_key(system, "AA", kind=KeySymbol.Kind.MASTER),
        bare_key(system, "AA2"),
    ]
    holders = [factories.make_holder(cast.north, name=name) for name in ("One", "Two", "Three")]
    holders += [
        factories.make_holder(cast.north, name="Clerk", user=cast.desk),
        factories.make_holder(cast.south, name="Away"),
    ]
    doors = [a_door(cast, keys) for keys in ([symbols[0], symbols[1]], [symbols[2], symbols[1]])]
    manager = factories.make_user("second-manager", site=cast.north, role=Role.MANAGER)
    for user in (cast.manager, manager):
        BuildingManager.objects.create(building=doors[0].building, user=user)
    names = ("desk", "officer", "requester", "manager", "locksmith")
    people = {name: cast.everybody[name] for name in names}
    return World(
        cast=cast,
        people=people | {"second": second, "second-manager": manager},
        wishes=[(0, doors[:1]), (2, doors[1:]), (1, doors)],
        symbols=symbols,
        holders=holders,
        cabinets=[factories.make_cabinet(site) for site in (cast.north, cast.north, cast.south)],
    )


def a_door(cast: Cast, keys: list[KeySymbol]) -> Door:
    """A door of the one building whose core the keys turn, written down as the engine would have."""
    floor = Floor.objects.filter(building__site=cast.north).first() or factories.make_floor(cast.north)
    door = factories.make_door(floor=floor)
    facts = {"site": cast.north, "format_id": "small-a2-7", "construction": "small-format"}
    core = Core.objects.create(**facts, pinning=b"x", pinned_at=timezone.now(), pinned_by=cast.locksmith)
    Turn.objects.bulk_create(Turn(core=core, symbol=key, operates=True, withdraws=False) for key in keys)
    factories.install(core, factories.make_housing(door=door))
    return door


def attempt(act: Callable[[], object], *, may: bool, is_role: bool = True) -> bool:
    """Do it; what the book foretold must come: done, refused in words, or forbidden."""
    refused: Refused | None = None
    try:
        act()
    except PermissionDenied:
        assert not is_role
    except Refused as refusal:
        refused = refusal
    else:
        assert is_role
        assert may
        return True
    if refused:
        assert is_role
        assert not may, refused
        assert_says_why(refused)
    return False


def assert_says_why(refusal: Refused) -> None:
    """A sentence that says what is in the way, and another that says what to do."""
    for sentence in refusal.sentences:
        assert sentence.endswith((".", "?"))
        assert len(re.split(r"[.;:] ", sentence)) >= 2, sentence
