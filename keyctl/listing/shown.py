"""A list as one person sees it now: its columns, its order, the view it was opened with."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any
from uuid import UUID

from django.db.models import QuerySet
from django.http import QueryDict
from django.urls import reverse
from django.utils.http import urlencode
from django.utils.translation import gettext as _

from keyctl.accounts.http import Request
from keyctl.accounts.models import User
from keyctl.lib.identifiers import read_uuid
from keyctl.listing.access import held_roles, offered_acts, visible_views
from keyctl.listing.declaring import Act, Column, List
from keyctl.listing.models import ListChoice, SavedView

# In the address in the place of a view: the whole list, whatever it opens with.
WHOLE = "all"
VIEWS_SHOWN = 6
MOST_WITHOUT_A_BOX = 8


@dataclass(frozen=True)
class Heading:
    column: Column
    # The address that sorts by it; none where it does not sort.
    href: str = ""
    aria: str = ""


@dataclass(frozen=True)
class Shown:
    list: List
    person: User
    said: dict[str, str]
    columns: tuple[Column, ...]
    sort: str
    view: SavedView | None
    views: Sequence[SavedView]
    acts: tuple[Act, ...]
    # Where to, if the address asks for a view and says nothing else.
    leads_to: str = ""

    @property
    def query(self) -> str:
        """Of links that keep all but the page."""
        return urlencode(self._kept())

    @property
    def filters(self) -> dict[str, str]:
        return {name: word for name, word in self.said.items() if name not in self.list.parted_by}

    @property
    def whole(self) -> str:
        """Of the link to the list without any filter or view."""
        parts = {name: word for name, word in self.said.items() if name in self.list.parted_by}
        return urlencode(parts | {"view": WHOLE})

    @property
    def is_wide(self) -> bool:
        """More columns than a page of a tablet holds: then the table scrolls in its own box."""
        return len(self.columns) > MOST_WITHOUT_A_BOX

    @property
    def some_views(self) -> Sequence[tuple[SavedView, str]]:
        """Each with its address."""
        return [(view, f"?{words_of_view(self.list, view)}") for view in self.views[:VIEWS_SHOWN]]

    def ordered(self, rows: "QuerySet[Any]") -> "QuerySet[Any]":
        """By the column that the address names; else as the list is by itself."""
        return rows.order_by(*fields, "pk") if (fields := sorting(self.list, self.sort)) else rows

    def headings(self) -> Iterator[Heading]:
        name, is_down = self.sort.removeprefix("-"), self.sort.startswith("-")
        for column in self.columns:
            if not column.sorts:
                yield Heading(column)
                continue
            is_this = column.name == name
            turned = f"-{column.name}" if is_this and not is_down else column.name
            aria = ("descending" if is_down else "ascending") if is_this else ""
            yield Heading(column, f"?{urlencode(self._kept() | {'sort': turned})}", aria)

    def lost(self) -> Sequence[str]:
        return lost_words(self.person, self.list, self.view) if self.view else []

    def _kept(self) -> dict[str, str]:
        kept = dict(self.said)
        if self.sort:
            kept["sort"] = self.sort
        if self.view:
            kept["view"] = str(self.view.pk)
        return kept


def shown_list(request: Request, found: List, **usual: str) -> Shown:
    """The caller has asked whether the person reads the list; ``usual`` is what its page shows where the
    address does not say. Four queries at most, whatever its size."""
    said = request.GET
    views = list(visible_views(request.user, found).order_by("name", "pk")[:100])
    choice = ListChoice.objects.filter(person=request.user, list_name=found.name).first()
    view = _view(said, views, choice.opens_with_id if choice and found.opens else None)
    sort = said.get("sort", view.sort if view else "")
    return Shown(
        list=found,
        person=request.user,
        said=found.narrowed({**usual, **said.dict()}),
        columns=found.chosen((view.columns if view else []) or (choice.columns if choice else [])),
        sort=sort if sorting(found, sort) else "",
        view=view,
        views=views,
        acts=offered_acts(found, held_roles(request.user)) if found.acts else (),
        leads_to=_leads_to(said, found, view),
    )


def words_of_view(found: List, view: SavedView) -> str:
    """The view as an address, without the question mark."""
    words = found.narrowed({name: str(word) for name, word in view.words.items()})
    return urlencode(words | ({"sort": view.sort} if view.sort else {}) | {"view": str(view.pk)})


def sorting(found: List, sort: str) -> tuple[str, ...]:
    """The fields of a column's order; none where there is no such column."""
    column = found.by_column.get(sort.removeprefix("-"))
    if column is None:
        return ()
    return tuple(f"-{name}" for name in column.sorts) if sort.startswith("-") else column.sorts


def lost_words(reader: User, found: List, view: SavedView) -> list[str]:
    """What the view names and this reader does not find, in sentences."""
    lost = [_lost_word(reader, word, value) for word in found.words if (value := view.words.get(word.name))]
    if any(name not in found.by_column for name in view.columns):
        lost.append(_("It shows a column that the list no longer has; the others are here."))
    if view.sort and not sorting(found, view.sort):
        lost.append(_("It is sorted by a column that the list no longer has; the list has its own order."))
    return [sentence for sentence in lost if sentence]


def told(reader: User, found: List, view: SavedView) -> str:
    """What the view narrows to, as this reader may know it."""
    words = [
        f"{word.label}: {word.tells(reader, value) or _('not here for you')}"
        for word in found.words
        if (value := view.words.get(word.name))
    ]
    return "; ".join(words)


def _lost_word(reader: User, word: Any, value: str) -> str:
    if word.tells(reader, value):
        return ""
    return _("It narrows to something that is not here for you any more ({label}).").format(label=word.label)


def _view(said: QueryDict, views: list[SavedView], opens_with: UUID | None) -> SavedView | None:
    if not said and opens_with:
        return next((view for view in views if view.pk == opens_with), None)
    wanted = read_uuid(said.get("view", ""))
    return next((view for view in views if view.pk == wanted), None) if wanted else None


def _leads_to(said: QueryDict, found: List, view: SavedView | None) -> str:
    """The view's own words go into the address, so that filters, pages and tables hold to them."""
    if view is None or set(said) - {"view"}:
        return ""
    words = words_of_view(found, view)
    return "" if words == said.urlencode() else f"{reverse(found.page)}?{words}"
