"""Acts on many rows as their pages show them."""

from dataclasses import dataclass

from django.db.models import Count, QuerySet

from keyctl.accounts.models import User
from keyctl.listing.access import visible_views
from keyctl.listing.declaring import Act, List
from keyctl.listing.models import BulkAct, BulkRow, ListChoice, SavedView
from keyctl.listing.shown import lost_words, told, words_of_view

# What a person looks for first: what would not, or did not, go.
FIRST = (
    BulkRow.State.REFUSED,
    BulkRow.State.LEFT,
    BulkRow.State.KEPT,
    BulkRow.State.WOULD,
    BulkRow.State.DONE,
    BulkRow.State.UNDONE,
    BulkRow.State.SAME,
    BulkRow.State.CHOSEN,
)


@dataclass(frozen=True)
class ViewRow:
    view: SavedView
    words: str
    narrows: str
    lost: list[str]
    is_mine: bool
    opens: bool


def rows_of(bulk: BulkAct, state: str = "") -> QuerySet[BulkRow]:
    rows = bulk.rows.order_by("position")
    return rows.filter(state=state) if state in BulkRow.State.values else rows


def counts_of(bulk: BulkAct) -> list[tuple[BulkRow.State, int]]:
    """How many rows are in which state, those first that want a look."""
    found = dict(bulk.rows.order_by().values_list("state").annotate(Count("pk")))
    return [(state, found[state]) for state in FIRST if state in found]


def acts_of(actor: User) -> QuerySet[BulkAct]:
    acts = BulkAct.objects.filter(actor=actor).annotate(number=Count("rows"))
    return acts.order_by("-began_at", "-pk")


def view_rows(actor: User, found: List) -> list[ViewRow]:
    choice = ListChoice.objects.filter(person=actor, list_name=found.name).first()
    opens_with = choice.opens_with_id if choice else None
    return [
        ViewRow(
            view=view,
            words=words_of_view(found, view),
            narrows=told(actor, found, view),
            lost=lost_words(actor, found, view),
            is_mine=view.owner_id == actor.pk,
            opens=view.pk == opens_with,
        )
        for view in visible_views(actor, found).order_by("name", "pk")[:100]
    ]


def touched_words(act: Act, row: BulkRow) -> list[tuple[str, str, str]]:
    """(what, from, to) for each field that becomes another."""
    return [(str(act.touches[name]), *row.words[name]) for name in act.touches if name in row.words]
