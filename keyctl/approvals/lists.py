"""The list of requests as people may want it."""

from django.db.models import QuerySet
from django.utils.translation import gettext_lazy

from keyctl.accounts.models import User
from keyctl.approvals.models import KeyRequest
from keyctl.approvals.selectors import other_requests, waiting_for
from keyctl.listing.declaring import Column, List, Said, Word
from keyctl.places.roles import Role


def waiting_rows(actor: User, said: Said) -> "QuerySet[KeyRequest]":
    return _narrowed(waiting_for(actor), said)


def _rows(actor: User, said: Said) -> "QuerySet[KeyRequest]":
    return _narrowed(other_requests(actor), said)


def _narrowed(found: "QuerySet[KeyRequest]", said: Said) -> "QuerySet[KeyRequest]":
    state = said.get("state", "")
    return found.filter(state=state) if state in KeyRequest.State.values else found


def _tells(_reader: User, value: str) -> str:
    return str(KeyRequest.State(value).label) if value in KeyRequest.State.values else ""


REQUESTS = List(
    name="requests",
    title=gettext_lazy("Requests for keys"),
    things="requests",
    page="approvals:list",
    model=KeyRequest,
    row="row",
    cells="approvals/_cells.html",
    readers=tuple(Role),
    rows=_rows,
    site="building__site",
    words=(Word("state", gettext_lazy("State"), _tells),),
    columns=(
        Column("request", gettext_lazy("Request"), heads=True),
        Column("holder", gettext_lazy("For")),
        Column("doors", gettext_lazy("Doors")),
        Column("asked", gettext_lazy("Asked"), sorts=("asked_at",)),
        Column("state", gettext_lazy("State"), sorts=("state", "-asked_at")),
        Column("waits_for", gettext_lazy("Waits for")),
        Column("reason", gettext_lazy("Reason"), shown=False, css="free-text"),
        Column("until", gettext_lazy("Needed until"), shown=False, css="nowrap"),
        Column("site", gettext_lazy("Site"), shown=False),
    ),
    why_no_acts=gettext_lazy(
        "Requests are decided one by one: each decision deserves a look at what it would open."
    ),
)
