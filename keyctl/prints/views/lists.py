"""Pages of exports: asking for one, and the register of all."""

from uuid import UUID

from django.contrib import messages
from django.core.exceptions import PermissionDenied
from django.db.models import QuerySet
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from keyctl.accounts.fresh import fresh_sign_in
from keyctl.accounts.http import Request
from keyctl.lib.http import UNPROCESSABLE
from keyctl.places.models import Site
from keyctl.prints.access import SYSTEM_KINDS, own_export, sites_to_export_at
from keyctl.prints.forms import ExportForm
from keyctl.prints.lists.exporting import ask_export, make_export
from keyctl.prints.models import Export
from keyctl.prints.selectors import register_page, waiting_lists
from keyctl.systems.access import readable_system
from keyctl.systems.models import KeySystem


@require_http_methods(["GET", "POST"])
def system(request: Request, pk: UUID) -> HttpResponse:
    """The lists of a system that the person may take, each with its own form."""
    found = readable_system(request.user, pk)
    sites = {kind: sites_to_export_at(request.user, found, kind) for kind in SYSTEM_KINDS}
    forms = {kind: ExportForm(sites=at, kind=kind) for kind, at in sites.items() if at.exists()}
    if not forms:
        raise PermissionDenied
    if request.method == "POST":
        export = _asked(request, found, sites, forms)
        if export and export.job:
            return redirect("jobs:detail", export.job.pk)
        if export:
            messages.success(request, _("Asked. A security officer decides; then you have it made here."))
            return redirect("prints:system", found.pk)
    context = {"system": found, "forms": list(forms.values()), "waiting": waiting_lists(request.user, found)}
    return render(
        request, "prints/system.html", context, status=UNPROCESSABLE if request.method == "POST" else 200
    )


def _asked(
    request: Request,
    system: KeySystem,
    sites: dict[Export.Kind, QuerySet[Site]],
    forms: dict[Export.Kind, ExportForm],
) -> Export | None:
    """The form that was sent stands in the place of its blank one; a list that is not theirs is forbidden."""
    said = request.POST.get("kind", "")
    if said not in SYSTEM_KINDS:
        return None
    kind = Export.Kind(said)
    if kind not in forms:
        raise PermissionDenied
    forms[kind] = ExportForm(request.POST, sites=sites[kind], kind=kind)
    return forms[kind].attempt(ask_export, actor=request.user, system=system, kind=kind)


@require_POST
def make(request: Request, pk: UUID) -> HttpResponse:
    """Have a list made that a second person permitted."""
    export = own_export(request.user, pk)
    job = make_export(actor=request.user, export=export, sign_in=fresh_sign_in(request))
    return redirect("jobs:detail", job.pk)


@require_GET
def register(request: Request) -> HttpResponse:
    page, rows = register_page(request.user, request.GET.get("page"))
    return render(request, "prints/exports.html", {"page": page, "rows": rows})
