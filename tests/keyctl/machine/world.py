"""The small world that the machine plays in: made once a test, and left as it was after each game."""

import re
from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass, field
from uuid import UUID

from django.core.exceptions import PermissionDenied

from keyctl.accounts.models import User
from keyctl.keys.models import Cabinet, Custody, Holder, KeyCopy
from keyctl.lib.errors import Refused
from keyctl.places.models import Membership
from keyctl.places.roles import Role
from keyctl.systems.models import KeySymbol
from tests import factories
from tests.cast import Cast
from tests.keyctl.keys.keyroom import bare_key, bare_system
from tests.keyctl.machine.book import CABINET, HELD, Book, Key, Taker


@dataclass
class World:
    cast: Cast
    people: dict[str, User]
    symbols: list[KeySymbol]
    holders: list[Holder]
    cabinets: list[Cabinet]
    copies: list[KeyCopy] = field(default_factory=list)

    def open_book(self) -> Book:
        """The book of a world in which nothing was cut yet."""
        self.copies = []
        north, names = self.cast.north.pk, {user.pk: name for name, user in self.people.items()}
        takers = [
            Taker(holder.site_id == north, holder.is_active, names.get(holder.user_id or 0, ""))
            for holder in self.holders
        ]
        return Book(takers=takers, cabinets=[each.site_id == north for each in self.cabinets])

    def compare(self, book: Book) -> None:
        """Copies and open lines of the database against the book, one by one, and the law counted anew."""
        rows = KeyCopy.objects.order_by().values_list(
            "pk", "symbol", "state", "holder", "cabinet", "condition", "custody"
        )
        copies = {pk: tuple(facts) for pk, *facts in rows}
        open_lines = Custody.objects.filter(ended_at__isnull=True).order_by()
        lines = {copy: (pk, holder) for pk, copy, holder in open_lines.values_list("pk", "copy", "holder")}
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
    return World(
        cast=cast,
        people={"desk": cast.desk, "second": second, "officer": cast.officer, "requester": cast.requester},
        symbols=symbols,
        holders=holders,
        cabinets=[factories.make_cabinet(site) for site in (cast.north, cast.north, cast.south)],
    )


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
