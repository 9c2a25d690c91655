"""The list of work orders as people may want it, and what is done to many orders at once."""

from collections.abc import Mapping
from typing import Any

from django import forms
from django.db.models import QuerySet
from django.utils.translation import gettext_lazy

from keyctl.accounts.models import User
from keyctl.listing.declaring import Act, ActForm, Column, List, Said, Word
from keyctl.orders import services
from keyctl.orders.access import READERS
from keyctl.orders.forms import OrderFilter
from keyctl.orders.models import WorkOrder
from keyctl.orders.selectors import orders_by_state
from keyctl.orders.states import ASSIGNERS
from keyctl.places.models import Site
from keyctl.places.roles import Role
from keyctl.places.selectors import people_at


class AssignMany(ActForm):
    """Nobody is a choice, too."""

    to = forms.ModelChoiceField(
        User.objects.none(),
        required=False,
        label=gettext_lazy("Who does it?"),
        empty_label=gettext_lazy("Nobody yet"),
        help_text=gettext_lazy("Orders of a site where this is no locksmith are refused."),
    )

    def __init__(self, data: Mapping[str, Any] | None = None, *, actor: User) -> None:
        super().__init__(data, actor=actor)
        field = self.fields["to"]
        assert isinstance(field, forms.ModelChoiceField)  # noqa: S101 (tells the type checker)
        sites = Site.objects.for_roles(actor, *ASSIGNERS)
        field.queryset = people_at(sites, Role.LOCKSMITH)


class DueMany(ActForm):
    due_on = forms.DateField(
        required=False,
        label=gettext_lazy("Due on"),
        widget=forms.DateInput(attrs={"type": "date"}),
        help_text=gettext_lazy("Empty for no day."),
    )


def _rows(actor: User, said: Said) -> "QuerySet[WorkOrder]":
    return orders_by_state(actor, **OrderFilter(dict(said)).chosen())


def _tells(name: str) -> Any:
    def tells(_reader: User, value: str) -> str:
        choices = OrderFilter().fields[name].choices  # type: ignore[attr-defined]
        return next((str(label) for word, label in choices if word == value and word), "")

    return tells


def _assign(actor: User, order: WorkOrder, *, to: User | None) -> None:
    services.assign_order(actor=actor, order=order, to=to)


def _assign_back(actor: User, order: WorkOrder, before: Mapping[str, Any]) -> None:
    to = before["assigned_to"]
    services.assign_order(actor=actor, order=order, to=User.objects.get(pk=to) if to else None)


def _due(actor: User, order: WorkOrder, *, due_on: Any) -> None:
    services.set_due_day(actor=actor, order=order, due_on=due_on)


def _due_back(actor: User, order: WorkOrder, before: Mapping[str, Any]) -> None:
    services.set_due_day(actor=actor, order=order, due_on=before["due_on"])


ORDERS = List(
    name="orders",
    title=gettext_lazy("Work orders"),
    things="orders",
    page="orders:list",
    model=WorkOrder,
    row="order",
    cells="orders/_cells.html",
    readers=READERS,
    rows=_rows,
    words=(
        Word("state", gettext_lazy("State"), _tells("state")),
        Word("kind", gettext_lazy("Work"), _tells("kind")),
        Word("whose", gettext_lazy("Whose"), _tells("whose")),
        Word("due", gettext_lazy("Due"), _tells("due")),
    ),
    columns=(
        Column("order", gettext_lazy("Order"), sorts=("number",), heads=True, css="nowrap"),
        Column("title", gettext_lazy("For")),
        Column("site", gettext_lazy("Site"), sorts=("site__code", "-number")),
        Column("kind", gettext_lazy("Work")),
        Column("assigned", gettext_lazy("Done by")),
        Column("due", gettext_lazy("Due"), sorts=("due_on", "number")),
        Column("done", gettext_lazy("Done"), css="number nowrap"),
        Column("state", gettext_lazy("State")),
        Column("opened", gettext_lazy("Opened"), shown=False, sorts=("opened_at",), css="nowrap"),
        Column("opened_by", gettext_lazy("Opened by"), shown=False),
        Column("closed", gettext_lazy("Closed"), shown=False, css="nowrap"),
        Column("part_of", gettext_lazy("Part of"), shown=False, css="nowrap"),
    ),
    acts=(
        Act(
            name="assign",
            label=gettext_lazy("Say who does it"),
            roles=ASSIGNERS,
            form=AssignMany,
            touches={"assigned_to": gettext_lazy("Done by")},
            does=_assign,
            undoes=_assign_back,
        ),
        Act(
            name="due",
            label=gettext_lazy("Say by when"),
            roles=ASSIGNERS,
            form=DueMany,
            touches={"due_on": gettext_lazy("Due")},
            does=_due,
            undoes=_due_back,
        ),
    ),
)
