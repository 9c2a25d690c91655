"""The lists of keys that are out, of copies and of the register, and what is done to many of them at once."""

from collections.abc import Mapping
from datetime import date
from typing import Any

from django import forms
from django.db.models import QuerySet
from django.utils import timezone
from django.utils.dateparse import parse_date
from django.utils.translation import gettext_lazy

from keyctl.accounts.models import User
from keyctl.keys import selectors, services
from keyctl.keys.access import DESK, READERS, visible_copies
from keyctl.keys.models import Cabinet, Custody, KeyCopy
from keyctl.lib.moments import end_of_day
from keyctl.listing.declaring import Act, ActForm, Column, List, Said, Word
from keyctl.places.models import Site

SHOWS = {
    "due": gettext_lazy("Due back"),
    "overdue": gettext_lazy("Overdue"),
    "out": gettext_lazy("Out with holders"),
    "stock": gettext_lazy("In cabinets"),
    "broken": gettext_lazy("Broken"),
}


class MoveMany(ActForm):
    cabinet = forms.ModelChoiceField(
        Cabinet.objects.none(), label=gettext_lazy("To which cabinet?"), empty_label=None
    )

    def __init__(self, data: Mapping[str, Any] | None = None, *, actor: User) -> None:
        super().__init__(data, actor=actor)
        field = self.fields["cabinet"]
        assert isinstance(field, forms.ModelChoiceField)  # noqa: S101 (tells the type checker)
        field.queryset = Cabinet.objects.filter(site__in=Site.objects.for_roles(actor, *DESK))


class DueMany(ActForm):
    """A day that a person names lasts until its end, as at the desk."""

    due_on = forms.DateField(
        required=False,
        label=gettext_lazy("Due back on"),
        widget=forms.DateInput(attrs={"type": "date"}),
        help_text=gettext_lazy("Empty: until somebody asks for the key."),
    )


def day_of(text: str) -> date | None:
    try:
        return parse_date(text)
    except ValueError:
        return None


def _out(actor: User, said: Said) -> "QuerySet[Custody]":
    shows = {
        "due": lambda: selectors.custodies_due(actor, timezone.localdate()),
        "overdue": lambda: selectors.custodies_overdue(actor, timezone.now()),
    }
    found = shows.get(said.get("show", ""))
    return found() if found else selectors.custodies_out(actor)


def _copies(actor: User, said: Said) -> "QuerySet[KeyCopy]":
    shows = {"stock": selectors.copies_in_stock, "broken": selectors.copies_broken}
    return shows.get(said.get("show", ""), visible_copies)(actor)


def _register(actor: User, said: Said) -> "QuerySet[Custody]":
    return selectors.register(actor, text=said.get("q", ""), day=day_of(said.get("day", "")))


def _tells_show(_reader: User, value: str) -> str:
    return str(SHOWS.get(value, ""))


def _tells_day(_reader: User, value: str) -> str:
    return str(day_of(value) or "")


def _move(actor: User, copy: KeyCopy, *, cabinet: Cabinet) -> None:
    services.move_copies(actor=actor, copies=[copy], cabinet=cabinet, version=copy.version)


def _move_back(actor: User, copy: KeyCopy, before: Mapping[str, Any]) -> None:
    _move(actor, copy, cabinet=Cabinet.objects.get(pk=before["cabinet"]))


def _due(actor: User, line: Custody, *, due_on: date | None) -> None:
    services.change_due(actor=actor, line=line, due_at=end_of_day(due_on) if due_on else None)


def _due_back(actor: User, line: Custody, before: Mapping[str, Any]) -> None:
    services.change_due(actor=actor, line=line, due_at=before["due_at"], puts_back=True)


SHOW = Word("show", gettext_lazy("Which keys"), _tells_show)

OUT = List(
    name="out",
    title=gettext_lazy("Keys that are out"),
    things="keys",
    page="keys:desk",
    model=Custody,
    row="custody",
    cells="keys/_out_cells.html",
    readers=READERS,
    rows=_out,
    worked_by=("copy_id", "pk"),
    site="copy__site",
    words=(SHOW,),
    parted_by=("show",),
    columns=(
        Column("serial", gettext_lazy("Serial"), heads=True, css="nowrap"),
        Column("symbol", gettext_lazy("Symbol"), css="code nowrap"),
        Column("holder", gettext_lazy("Holder")),
        Column("out_at", gettext_lazy("Out since"), sorts=("out_at",)),
        Column("due", gettext_lazy("Due back"), sorts=("due_at", "out_at")),
        Column("site", gettext_lazy("Site"), shown=False),
        Column("system", gettext_lazy("System"), shown=False),
        Column("department", gettext_lazy("Department"), shown=False),
        Column("by", gettext_lazy("Handed out by"), shown=False),
    ),
    acts=(
        Act(
            name="due",
            label=gettext_lazy("Set the day they are due back"),
            roles=DESK,
            form=DueMany,
            touches={"due_at": gettext_lazy("Due back")},
            does=_due,
            undoes=_due_back,
        ),
    ),
)

COPIES = List(
    name="copies",
    title=gettext_lazy("Key copies"),
    things="key copies",
    page="keys:desk",
    model=KeyCopy,
    row="copy",
    cells="keys/_copy_cells.html",
    readers=READERS,
    rows=_copies,
    words=(SHOW,),
    parted_by=("show",),
    columns=(
        Column("serial", gettext_lazy("Serial"), sorts=("serial",), heads=True, css="nowrap"),
        Column("symbol", gettext_lazy("Symbol"), css="code nowrap"),
        Column("system", gettext_lazy("System")),
        Column("where", gettext_lazy("Where")),
        Column("site", gettext_lazy("Site")),
        Column("state", gettext_lazy("State")),
        Column("stamp", gettext_lazy("Stamp"), shown=False, css="code"),
        Column("cut_at", gettext_lazy("Cut"), shown=False, css="nowrap"),
    ),
    acts=(
        Act(
            name="cabinet",
            label=gettext_lazy("Hang them in another cabinet"),
            roles=DESK,
            form=MoveMany,
            touches={"cabinet": gettext_lazy("Cabinet")},
            does=_move,
            undoes=_move_back,
        ),
    ),
)

REGISTER = List(
    name="register",
    title=gettext_lazy("Register"),
    things="lines of the register",
    page="keys:register",
    model=Custody,
    row="custody",
    cells="keys/_register_cells.html",
    readers=READERS,
    rows=_register,
    site="copy__site",
    words=(
        Word("q", gettext_lazy("Words")),
        Word("day", gettext_lazy("Handed out on"), _tells_day),
    ),
    columns=(
        Column("serial", gettext_lazy("Serial"), heads=True, css="code"),
        Column("out_at", gettext_lazy("Out"), sorts=("out_at",), css="nowrap"),
        Column("holder", gettext_lazy("Holder"), css="free-text"),
        Column("signed", gettext_lazy("Signed"), css="free-text"),
        Column("by", gettext_lazy("Handed out by")),
        Column("due", gettext_lazy("Due"), css="nowrap"),
        Column("back", gettext_lazy("Back"), css="nowrap"),
        Column("taken_by", gettext_lazy("Taken back by")),
        Column("remarks", gettext_lazy("Remarks"), css="free-text"),
        Column("symbol", gettext_lazy("Symbol"), shown=False, css="code"),
        Column("site", gettext_lazy("Site"), shown=False),
    ),
    why_no_acts=gettext_lazy("Nothing in the register is changed: each line tells what happened."),
)


def list_showing(show: str) -> List:
    """Copies that lie in cabinets or are broken, each by itself; else lines of the register that are open."""
    return COPIES if show in {"stock", "broken"} else OUT
