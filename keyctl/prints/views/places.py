"""Asking for prints of a site or a building: door schedule, lock chart, hand-over binder."""

from uuid import UUID

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods

from keyctl.accounts.http import Request
from keyctl.lib.http import UNPROCESSABLE
from keyctl.places.models import Site
from keyctl.prints.access import PLACE_KINDS, exporting_site
from keyctl.prints.forms import PlaceExportForm
from keyctl.prints.lists.exporting import ask_place_export
from keyctl.prints.models import Export
from keyctl.prints.selectors import takes_bittings, waiting_lists


@require_http_methods(["GET", "POST"])
def site(request: Request, pk: UUID) -> HttpResponse:
    """The prints of a site, each with its own form; `?building=` has that one chosen."""
    found = exporting_site(request.user, pk)
    may_see = takes_bittings(request.user, found)
    chosen = {"building": request.GET.get("building", "")}
    forms = {
        kind: PlaceExportForm(kind=kind, site=found, may_see=may_see, initial=chosen) for kind in PLACE_KINDS
    }
    if request.method == "POST":
        export = _asked(request, found, forms, may_see=may_see)
        if export and export.job:
            return redirect("jobs:detail", export.job.pk)
        if export:
            messages.success(request, _("Asked. A security officer decides; then you have it made here."))
            return redirect("prints:site", found.pk)
    facts = {"site": found, "forms": list(forms.values()), "waiting": waiting_lists(request.user, found)}
    status = UNPROCESSABLE if request.method == "POST" else 200
    return render(request, "prints/site.html", facts, status=status)


def _asked(
    request: Request, site: Site, forms: dict[Export.Kind, PlaceExportForm], *, may_see: bool
) -> Export | None:
    """The form that was sent stands in the place of its blank one."""
    said = request.POST.get("kind", "")
    if said not in PLACE_KINDS:
        return None
    kind = Export.Kind(said)
    forms[kind] = PlaceExportForm(request.POST, kind=kind, site=site, may_see=may_see)
    return forms[kind].attempt(ask_place_export, actor=request.user, site=site, kind=kind)
