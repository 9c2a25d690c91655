"""What a kind of import tells the framework: who may take it, what it writes, how a file becomes a plan.

A kind has **things** (``records.Records``: buildings, doors, holders), those that others stand on first, and
a **plan**: a generator that reads the file and yields, in the order of writing, ``Planned`` for what it found
and ``Fault`` for what is wrong. It writes nothing. The framework keeps the plan row by row, shows it, and
writes it in batches by the things themselves: what is written is what was shown. Undo goes the other way.
"""

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from enum import StrEnum
from functools import cached_property
from typing import TYPE_CHECKING, Any
from uuid import UUID, uuid4

from django.utils.translation import gettext as _

from keyctl.accounts.models import User
from keyctl.imports.models import Import
from keyctl.lib.errors import Refused
from keyctl.lib.language import Text
from keyctl.lib.sheets import Sheet, read_sheet
from keyctl.places.roles import Role
from keyctl.vault import services as vault

if TYPE_CHECKING:
    from keyctl.imports.records import Records

# What a row holds, by the names of its columns in the database, as JSON holds it: identifiers as texts,
# many-to-many as sorted lists of identifiers.
Values = dict[str, Any]
Step = Callable[[int, int, str], None]
LARGEST_FILE = 20_000_000
MOST_ROWS = 200_000
MOST_COLUMNS = 60


class Act(StrEnum):
    CREATE = "create"
    CHANGE = "change"
    SAME = "same"


@dataclass(frozen=True, slots=True)
class Planned:
    """One thing of the file. A new one has its identifier already, so that later ones can point at it."""

    thing: str
    pk: UUID
    act: Act
    label: str
    values: Values = field(default_factory=dict, repr=False)
    before: Values = field(default_factory=dict, repr=False)
    words: Sequence[tuple[str, str, str]] = ()
    sheet: str = ""
    row: int = 0


@dataclass(frozen=True, slots=True)
class Fault:
    """What is wrong, where (a column by its heading or letter), with the remedy. No bitting, ever.

    An error leaves its row out; a warning does not. ``thing`` says that the row was one of these.
    """

    message: Text
    sheet: str = ""
    row: int = 0
    column: str = ""
    is_error: bool = True
    thing: str = ""


@dataclass
class Given:
    """What a plan works with."""

    imported: Import
    actor: User
    step: Step

    @cached_property
    def content(self) -> bytes:
        if self.imported.content is None:
            raise Refused(_("The file of this import is deleted already. Bring it in again."))
        return vault.unseal_bytes(self.imported, "content")

    @cached_property
    def sheet(self) -> Sheet:
        return table_of(self.content)


@dataclass(frozen=True)
class Field:
    """What a column can say; by these headings it is known at once."""

    name: str
    label: Text
    headings: tuple[str, ...] = ()
    needed: bool = False

    @property
    def plainly(self) -> str:
        """Without the words that may stand in it."""
        return str(self.label).partition(":")[0]


@dataclass(frozen=True)
class Kind:
    name: str
    label: Text
    hint: Text
    takers: tuple[Role, ...]
    # Those that others stand on first; written in this order within a batch, undone in the other.
    things: "tuple[Records, ...]"
    # Counted in full by the command: the others by how many were read.
    main: str
    plan: Callable[[Given], Iterator[Planned | Fault]]
    fields: tuple[Field, ...] = ()
    accept: str = ".csv,.xlsx"
    largest: int = LARGEST_FILE
    # Turns away a file of another kind when it arrives; the plan says the rest.
    suits: Callable[[bytes], None] = lambda _content: None
    # Others are brought in on pages of their own, and only kept account of here.
    is_brought_here: bool = True
    refuse_undo: Callable[[Import], None] = lambda _imported: None

    def thing(self, name: str) -> "Records":
        return next(thing for thing in self.things if thing.name == name)

    @property
    def needed(self) -> tuple[Field, ...]:
        return tuple(field for field in self.fields if field.needed)


def planned(
    thing: "Records",
    label: str,
    said: Mapping[str, Any],
    now: Mapping[str, Any] | None,
    *,
    pk: UUID | None = None,
    texts: Mapping[str, tuple[str, str]] | None = None,
    sheet: str = "",
    row: int = 0,
) -> Planned:
    """What comes of a thing that the file describes by ``said`` where ``now`` is on record (None: it is new).

    ``texts`` are the words (from, to) of values that say nothing to people, such as identifiers.
    """
    where: dict[str, Any] = {"sheet": sheet, "row": row}
    if now is None:
        words = thing.told(said)
        return Planned(thing.name, pk or uuid4(), Act.CREATE, label, dict(said), words=words, **where)
    if pk is None:
        raise ValueError("What is on record has an identifier.")
    changed = {name: value for name, value in said.items() if now[name] != value}
    if not changed:
        return Planned(thing.name, pk, Act.SAME, label, **where)
    before = {name: now[name] for name in changed}
    words = thing.compared(before, changed, texts or {})
    return Planned(thing.name, pk, Act.CHANGE, label, changed, before, words, **where)


def table_of(content: bytes) -> Sheet:
    """A CSV file or a workbook's first sheet, read in the confined child."""
    return read_sheet(content, most_columns=MOST_COLUMNS, most_rows=MOST_ROWS, largest=LARGEST_FILE)


_kinds: dict[str, Kind] = {}


def register_import(kind: Kind) -> None:
    _kinds[kind.name] = kind


def known_kinds() -> list[Kind]:
    return list(_kinds.values())


def find_kind(name: str) -> Kind | None:
    return _kinds.get(name)


def kind_of(imported: Import) -> Kind:
    kind = _kinds.get(imported.kind)
    if kind is None:
        raise Refused(_("This installation no longer knows imports of this kind."))
    return kind
