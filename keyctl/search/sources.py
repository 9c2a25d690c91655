"""Where the words of each kind come from. No bitting, no pin, no note, no address of mail is among them."""

from collections import defaultdict
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass, field
from typing import Any, Final
from uuid import UUID

from django.db import models

from keyctl.accounts.models import User
from keyctl.approvals.models import KeyRequest
from keyctl.cores.models import Core
from keyctl.keys.models import Cabinet, Holder, KeyCopy, Person
from keyctl.orders.models import WorkOrder
from keyctl.places.models import Building, Door, Identifier, Space
from keyctl.search.folding import words_of
from keyctl.systems.models import KeySymbol, KeySystem

# The site of whoever belongs to none.
NOWHERE: Final = UUID(int=0)
OWN, CALLED, CONTEXT = 3, 2, 1
# As good as its own, for those who work with the estate: no page tells anybody else of it.
INNER = 0
# Before what other programs call a place: found by the whole of it alone, letter by letter.
WHOLE = "="

Texts = dict[UUID, list[tuple[int, str]]]


@dataclass(frozen=True)
class Source:
    """``own``, ``called``, ``context``: columns of the thing and of what it is in; ``site``: the way there;
    ``inner``: those that not everybody who finds the thing may read.

    ``more`` adds words that stand in rows of other tables, one question for many things.
    """

    kind: str
    model: type[models.Model]
    site: str
    own: tuple[str, ...]
    called: tuple[str, ...] = ()
    context: tuple[str, ...] = ()
    inner: tuple[str, ...] = ()
    more: Sequence[Callable[[Iterable[UUID]], Iterator[tuple[UUID, int, str]]]] = field(default=())

    def rows(self, things: Iterable[UUID]) -> Iterator[tuple[UUID, UUID, str]]:
        """(thing, site, words) of those that are there."""
        things = list(things)
        parts = ((OWN, self.own), (CALLED, self.called), (CONTEXT, self.context), (INNER, self.inner))
        weights = [weight for weight, columns in parts for _column in columns]
        added: Texts = defaultdict(list)
        for more in self.more:
            for thing, weight, text in more(things):
                added[thing].append((weight, text))
        columns = ("pk", self.site or "pk", *self.own, *self.called, *self.context, *self.inner)
        found = self.model._default_manager.filter(pk__in=things).order_by().values_list(*columns)
        for thing, site, *texts in found:
            if site is not None:
                own = [(weight, str(text or "")) for weight, text in zip(weights, texts, strict=True)]
                yield thing, site if self.site else NOWHERE, told(own + added[thing])


def told(texts: Iterable[tuple[int, str]]) -> str:
    """Each word once, as well as it names the thing anywhere."""
    best: dict[str, int] = {}
    for weight, text in texts:
        found = [text] if text.startswith(WHOLE) else words_of(text)
        for word in found:
            best[word] = max(weight, best.get(word, INNER))
    return " ".join(f"{weight}{word}" for word, weight in sorted(best.items()))


def _spaces_of_doors(doors: Iterable[UUID]) -> Iterator[tuple[UUID, int, str]]:
    joins = Door.spaces.through.objects.filter(door__in=doors)
    for door, *texts in joins.values_list("door", "space__number", "space__name"):
        yield from ((door, CONTEXT, text) for text in texts)


def _identifiers(column: str) -> Callable[[Iterable[UUID]], Iterator[tuple[UUID, int, str]]]:
    def found(places: Iterable[UUID]) -> Iterator[tuple[UUID, int, str]]:
        rows = Identifier.objects.filter(**{f"{column}__in": places}).order_by()
        for place, value in rows.values_list(column, "value"):
            # Entries are parted by blanks.
            yield place, INNER, WHOLE + "".join(value.split())

    return found


def _doors_of_requests(requests: Iterable[UUID]) -> Iterator[tuple[UUID, int, str]]:
    joins = KeyRequest.doors.through.objects.filter(keyrequest__in=requests)
    for request, number in joins.values_list("keyrequest", "door__number"):
        yield request, CONTEXT, number


_BUILDING = ("floor__building__code", "floor__building__name")
_SYSTEM = ("system__code", "system__name")
_ALL = (
    Source(
        "door",
        Door,
        "floor__building__site",
        own=("number", "tag"),
        called=("name",),
        context=_BUILDING,
        inner=("serial_number", "asset_tag", "bar_code"),
        more=(_spaces_of_doors, _identifiers("door")),
    ),
    Source(
        "space",
        Space,
        "floor__building__site",
        own=("number",),
        called=("name",),
        context=_BUILDING,
        more=(_identifiers("space"),),
    ),
    Source("building", Building, "site", own=("code", "name"), more=(_identifiers("building"),)),
    Source("core", Core, "site", own=("tag",)),
    Source("key", KeySymbol, "system__sites", own=("symbol",), context=_SYSTEM),
    Source(
        "key-copy",
        KeyCopy,
        "site",
        own=("serial", "stamp"),
        context=("symbol__symbol", "symbol__system__code"),
    ),
    Source("key-system", KeySystem, "sites", own=("code", "name")),
    Source("cabinet", Cabinet, "site", own=("name", "tag")),
    Source("holder", Holder, "site", own=("name",), context=("department",)),
    Source("person", Person, "", own=("display_name",), context=("department",)),
    Source("member", User, "memberships__site", own=("display_name",), called=("username",)),
    Source("work-order", WorkOrder, "site", own=("number",), called=("title",)),
    Source(
        "request",
        KeyRequest,
        "building__site",
        own=("holder__name",),
        called=("building__code", "building__name"),
        more=(_doors_of_requests,),
    ),
)
SOURCES: Final[dict[str, Source]] = {source.kind: source for source in _ALL}


def all_things() -> Iterator[tuple[str, "models.QuerySet[Any]"]]:
    for source in _ALL:
        yield source.kind, source.model._default_manager.order_by().values_list("pk", flat=True)
