"""What a list is: its columns, the words of its address that narrow it, and what is done to many rows.

An app above declares its lists here in ``AppConfig.ready()``; this one knows none of them.
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import Any

from django import forms
from django.db.models import Model, QuerySet

from keyctl.accounts.models import User
from keyctl.lib.language import Text
from keyctl.places.roles import Role

# As the address of a list says it; a wrong word narrows nothing, as on its page.
Said = Mapping[str, str]


@dataclass(frozen=True)
class Column:
    """``sorts`` are fields that an index serves, or that no more rows share than a page may sort.

    Its cells are the part of its name in the list's template of cells.
    """

    name: str
    heading: Text
    sorts: tuple[str, ...] = ()
    shown: bool = True
    # The one that names the row: it is always there.
    heads: bool = False
    css: str = ""


def _as_typed(_reader: User, value: str) -> str:
    return value


@dataclass(frozen=True)
class Word:
    """A word of the address. ``tells`` says what a value narrows to; nothing where this reader has no such
    thing, or no longer has."""

    name: str
    label: Text
    tells: Callable[[User, str], str] = _as_typed


class ActForm(forms.Form):
    """What a person says of an act on many rows; what they typed is kept and read again at each step."""

    def __init__(self, data: Mapping[str, Any] | None = None, *, actor: User) -> None:
        super().__init__(data)
        self.actor = actor


@dataclass(frozen=True)
class Act:
    """``does`` calls for one row the service that a single row's page calls; ``undoes`` calls it with what
    stood in the touched fields before. Both refuse with a sentence."""

    name: str
    label: Text
    # Who is offered it; the service asks for the role at each row's site.
    roles: tuple[Role, ...]
    form: type[ActForm]
    touches: Mapping[str, Text]
    does: Callable[..., object]
    undoes: Callable[..., object]
    caution: Text = ""


@dataclass(frozen=True)
class List:
    name: str
    title: Text
    # What history calls its rows.
    things: str
    # The route of its page.
    page: str
    model: type[Model]
    # What a row is called in the templates of its cells.
    row: str
    cells: str
    columns: tuple[Column, ...]
    readers: tuple[Role, ...]
    rows: Callable[[User, Said], "QuerySet[Any]"]
    words: tuple[Word, ...] = ()
    acts: tuple[Act, ...] = ()
    # The fields whose order is that of locks.
    worked_by: tuple[str, ...] = ("pk",)
    # The way from a row to its site.
    site: str = "site"
    # Words that say which part of its page the list is: no filter, so that the whole list keeps them.
    parted_by: tuple[str, ...] = ()
    # Why nothing here is done to many rows at once, where nothing is.
    why_no_acts: Text = ""
    by_column: dict[str, Column] = field(init=False, repr=False, compare=False)

    def __post_init__(self) -> None:
        object.__setattr__(self, "by_column", {column.name: column for column in self.columns})

    @property
    def usual(self) -> tuple[Column, ...]:
        return tuple(column for column in self.columns if column.shown)

    def narrowed(self, said: Said) -> dict[str, str]:
        return {word.name: said[word.name][:120] for word in self.words if said.get(word.name)}

    def chosen(self, names: list[str]) -> tuple[Column, ...]:
        """Those columns that there are; what names the row comes first if it was left out."""
        found = tuple(self.by_column[name] for name in dict.fromkeys(names) if name in self.by_column)
        heads = tuple(column for column in self.columns if column.heads and column not in found)
        return heads + found if found else self.usual

    @property
    def opens(self) -> bool:
        """Whether its page may open with a kept view: a list that is one part of its page does not."""
        return not self.parted_by

    def act(self, name: str) -> Act | None:
        return next((act for act in self.acts if act.name == name), None)


_lists: dict[str, List] = {}


def register_list(declared: List) -> None:
    _lists[declared.name] = declared


def find_list(name: str) -> List | None:
    return _lists.get(name)
