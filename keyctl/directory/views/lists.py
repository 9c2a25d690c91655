"""Lists of people: brought in, their columns, the dry run, applied; and who is missing from them."""

from typing import Any
from uuid import UUID

from django.contrib import messages
from django.core.paginator import Paginator
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils.http import urlencode
from django.utils.translation import gettext as _
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from keyctl.accounts.http import Request
from keyctl.directory import access, selectors, services
from keyctl.directory.columns import FIELDS
from keyctl.directory.forms import BringForm, MissingForm, PeopleColumnsForm
from keyctl.directory.models import MissingPerson, PeopleList
from keyctl.directory.services.applying import MOST_LEAVING_PERCENT, is_many
from keyctl.directory.services.lists import sheet_of
from keyctl.lib.forms import ServiceForm, VersionForm
from keyctl.lib.http import UNPROCESSABLE

PER_PAGE = 25
FINDINGS_PER_PAGE = 100
MISSING_PER_PAGE = 100


@require_GET
def index(request: Request) -> HttpResponse:
    access.require_keeper(request.user)
    page = Paginator(selectors.lists(), PER_PAGE).get_page(request.GET.get("page"))
    return render(request, "directory/lists.html", {"page": page})


@require_http_methods(["GET", "POST"])
def bring(request: Request) -> HttpResponse:
    access.require_keeper(request.user)
    sent = (request.POST, request.FILES) if request.method == "POST" else (None, None)
    form = BringForm(*sent)
    if request.method == "POST" and (listed := form.attempt(services.bring_people, actor=request.user)):
        is_checked = listed.state == PeopleList.State.CHECKED
        return redirect("directory:list-detail" if is_checked else "directory:columns", listed.pk)
    return render(
        request, "directory/bring.html", {"form": form}, status=UNPROCESSABLE if form.errors else 200
    )


@require_GET
def detail(request: Request, pk: UUID) -> HttpResponse:
    return _page(request, access.readable_list(request.user, pk))


@require_http_methods(["GET", "POST"])
def columns(request: Request, pk: UUID) -> HttpResponse:
    listed = access.readable_list(request.user, pk)
    if listed.state not in {PeopleList.State.UPLOADED, PeopleList.State.CHECKED}:
        return redirect("directory:list-detail", listed.pk)
    form = PeopleColumnsForm(request.POST or None, seen=listed, sheet=sheet_of(listed))
    if request.method == "POST":
        done = form.attempt(services.choose_columns, actor=request.user, listed=listed)
        if done:
            return redirect("directory:list-detail", listed.pk)
    facts = {"listed": listed, "form": form}
    return render(request, "directory/columns.html", facts, status=UNPROCESSABLE if form.errors else 200)


@require_POST
def apply(request: Request, pk: UUID) -> HttpResponse:
    listed = access.readable_list(request.user, pk)
    form = VersionForm(request.POST, seen=listed)
    job = form.attempt(services.start_applying, actor=request.user, listed=listed)
    return _page(request, listed, form) if job is None else redirect("jobs:detail", job.pk)


@require_POST
def give_up(request: Request, pk: UUID) -> HttpResponse:
    listed = access.readable_list(request.user, pk)
    form = VersionForm(request.POST, seen=listed)
    if form.attempt(services.give_up_list, actor=request.user, listed=listed) is None:
        return _page(request, listed, form)
    messages.success(request, _("The list is given up and its file deleted."))
    return redirect("directory:lists")


@require_POST
def missing(request: Request, pk: UUID) -> HttpResponse:
    """Those who are ticked have left, or stay."""
    listed = access.readable_list(request.user, pk)
    form = MissingForm(request.POST, missing=listed.missing.all())
    stays = "stay" in request.POST
    if stays:
        del form.fields["confirmed"]
    service = services.keep_missing if stays else services.let_go
    done = form.attempt(service, actor=request.user, listed=listed)
    if done is None:
        return _page(request, listed, form)
    messages.success(request, _decided(len(done), stays=stays))
    return redirect("directory:list-detail", pk)


def _decided(count: int, *, stays: bool) -> str:
    if stays:
        return _("One person stays.") if count == 1 else _("{count} people stay.").format(count=count)
    who = _("One person has left.") if count == 1 else _("{count} people have left.").format(count=count)
    return _("{who} What they still hold stands below Leavers.").format(who=who)


def _page(request: Request, listed: PeopleList, form: ServiceForm | None = None) -> HttpResponse:
    listed = access.readable_list(request.user, listed.pk)
    show = request.GET.get("show", "")
    found = Paginator(selectors.findings(listed, show), FINDINGS_PER_PAGE)
    absent = Paginator(selectors.missing_of(listed), MISSING_PER_PAGE).get_page(request.GET.get("missing"))
    keys = selectors.keys_out([row.person_id for row in absent])
    proposed = listed.missing.filter(state=MissingPerson.State.PROPOSED).count()
    # After a refusal, what was ticked stays so.
    chosen = {row.pk for row in form.cleaned_data.get("missing", ())} if isinstance(form, MissingForm) else ()
    facts: dict[str, Any] = {
        "listed": listed,
        "page": found.get_page(request.GET.get("page")),
        "show": show if show in selectors.ACTS else "",
        "query": urlencode({"show": show}) if show in selectors.ACTS else "",
        "columns": [FIELDS[name] for name in FIELDS if name in listed.columns],
        "absent": absent,
        "absent_rows": [(row, keys.get(row.person_id, 0)) for row in absent],
        "proposed": proposed,
        "is_many": is_many(listed, proposed),
        "percent": MOST_LEAVING_PERCENT,
        "form": form,
        "chosen": chosen,
        "missing_form": form if isinstance(form, MissingForm) else MissingForm(missing=listed.missing.all()),
    }
    status = UNPROCESSABLE if form is not None and form.errors else 200
    return render(request, "directory/list_detail.html", facts, status=status)
