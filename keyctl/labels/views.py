from uuid import UUID

from django.contrib import messages
from django.core.exceptions import PermissionDenied
from django.forms import model_to_dict
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.http import urlencode
from django.utils.text import slugify
from django.utils.translation import gettext as _
from django.views.decorators.http import require_GET, require_http_methods

from keyctl.accounts.http import Request
from keyctl.labels import access, services
from keyctl.labels.forms import GridForm, PrintForm
from keyctl.lib.http import UNPROCESSABLE

FIRST_VALUES = ("choice", "building", "order")


@require_GET
def sites(request: Request) -> HttpResponse:
    """Where there is one site to print for, its page."""
    found = list(access.printing_sites(request.user))
    if not found:
        raise PermissionDenied
    asked = urlencode(_asked(request))
    if len(found) == 1:
        return redirect(reverse("labels:print", args=[found[0].pk]) + (f"?{asked}" if asked else ""))
    return render(request, "labels/sites.html", {"sites": found, "asked": asked})


@require_http_methods(["GET", "POST"])
def choose(request: Request, pk: UUID) -> HttpResponse:
    site = access.printing_site(request.user, pk)
    form = PrintForm(request.POST or None, site=site, initial={"choice": "building", **_asked(request)})
    pdf = form.attempt(services.print_labels, actor=request.user)
    if pdf:
        name = f"labels-{slugify(site.code)}-{timezone.localdate():%Y-%m-%d}.pdf"
        headers = {"Content-Disposition": f'attachment; filename="{name}"'}
        return HttpResponse(pdf, content_type="application/pdf", headers=headers)
    facts = {"site": site, "form": form, "grids": site.label_grids.all()}
    return render(request, "labels/print.html", facts, status=UNPROCESSABLE if form.errors else 200)


@require_http_methods(["GET", "POST"])
def new_grid(request: Request, pk: UUID) -> HttpResponse:
    site = access.printing_site(request.user, pk)
    form = GridForm(request.POST or None)
    made = form.attempt(services.add_grid, actor=request.user, site=site)
    if made:
        messages.success(request, _("Saved. Print one sheet on plain paper and hold it against the labels."))
        return redirect("labels:print", site.pk)
    facts = {"site": site, "form": form}
    return render(request, "labels/grid.html", facts, status=UNPROCESSABLE if form.errors else 200)


@require_http_methods(["GET", "POST"])
def grid(request: Request, pk: UUID) -> HttpResponse:
    found = access.printing_grid(request.user, pk)
    form = GridForm(request.POST or None, initial=model_to_dict(found))
    changed = form.attempt(services.change_grid, actor=request.user, grid=found)
    if changed:
        messages.success(request, _("Saved."))
        return redirect("labels:print", found.site.pk)
    facts = {"site": found.site, "grid": found, "form": form}
    return render(request, "labels/grid.html", facts, status=UNPROCESSABLE if form.errors else 200)


def _asked(request: Request) -> dict[str, str]:
    return {name: request.GET[name] for name in FIRST_VALUES if name in request.GET}
