"""Taking a table from the page of its list, and the register of all that were taken."""

from django.core.paginator import Paginator
from django.http import Http404, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_GET, require_POST

from keyctl.accounts.http import Request
from keyctl.exports.access import readable_tables
from keyctl.exports.tables import TABLES
from keyctl.exports.taking import TYPES, Form, take_table

TABLES_ON_A_PAGE = 50


@never_cache
@require_POST
def table(request: Request, name: str) -> HttpResponse:
    """The address narrows it as that of the list does."""
    if name not in TABLES:
        raise Http404
    form = request.POST.get("form", "")
    taken = take_table(actor=request.user, table=TABLES[name], form=form, said=request.GET.dict())
    if taken.job:
        return redirect("jobs:detail", taken.job.pk)
    answer = HttpResponse(taken.content, content_type=TYPES[Form(form)])
    answer["Content-Disposition"] = f'attachment; filename="{taken.table.file_name}"'
    return answer


@require_GET
def register(request: Request) -> HttpResponse:
    page = Paginator(readable_tables(request.user), TABLES_ON_A_PAGE).get_page(request.GET.get("page"))
    return render(request, "exports/register.html", {"page": page, "tables": TABLES})
