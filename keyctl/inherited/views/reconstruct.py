"""Reconstructing an inherited system: asked by POST only, shown once, kept nowhere."""

from uuid import UUID

from django.contrib import messages
from django.http import Http404, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils.translation import gettext as _
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_GET, require_POST

from keyctl import engine
from keyctl.accounts.fresh import fresh_sign_in
from keyctl.accounts.http import Request
from keyctl.inherited import access, services
from keyctl.inherited.evidence import shown
from keyctl.inherited.forms import MakeForm, ReconstructForm, WhereForm
from keyctl.lib.errors import Refused
from keyctl.lib.http import UNPROCESSABLE
from keyctl.places.access import has_role
from keyctl.places.models import Site


@require_GET
def choose(request: Request) -> HttpResponse:
    access.readable_sites(request.user)
    form = WhereForm(request.GET if "format" in request.GET else None, actor=request.user)
    if not form.is_valid():
        return render(request, "inherited/choose.html", {"form": form})
    site = form.cleaned_data["site"]
    address = reverse("inherited:reconstruct", args=[site.pk])
    return redirect(f"{address}?format={form.cleaned_data['format']}")


@require_GET
def ask(request: Request, pk: UUID) -> HttpResponse:
    site = access.readable_site(request.user, pk)
    format = _format(request.GET.get("format", ""))
    if format is None:
        return redirect("inherited:choose")
    form = ReconstructForm(site=site, format_id=format.id)
    return render(request, "inherited/reconstruct.html", {"site": site, "format": format, "form": form})


@never_cache
@require_POST
def show(request: Request, pk: UUID) -> HttpResponse:
    site, format = _asked(request, pk)
    form = ReconstructForm(request.POST, site=site, format_id=format.id)
    facts = {"actor": request.user, "sign_in": fresh_sign_in(request)}
    found = form.attempt(services.look_at_reconstruction, **facts)
    context = {"site": site, "format": format, "form": form}
    if found is None:
        return render(request, "inherited/reconstruct.html", context, status=UNPROCESSABLE)
    context["found"] = shown(found)
    if has_role(request.user, site, *access.BRINGERS):
        context["makers"] = [
            MakeForm(
                initial=_said(form, number, each), site=site, format_id=format.id, auto_id=f"m{number}_%s"
            )
            for number, each in enumerate(found.found.candidates[:3])
        ]
    return render(request, "inherited/found.html", context)


@never_cache
@require_POST
def make(request: Request, pk: UUID) -> HttpResponse:
    site, format = _asked(request, pk)
    form = MakeForm(request.POST, site=site, format_id=format.id)
    system = form.attempt(services.make_system, actor=request.user)
    if system is None:
        context = {"site": site, "format": format, "form": form}
        return render(request, "inherited/make.html", context, status=UNPROCESSABLE)
    messages.success(
        request,
        _("The key system {code} is made. Try its keys before anything is built on it.").format(
            code=system.code
        ),
    )
    return redirect("systems:detail", system.pk)


def _said(form: ReconstructForm, number: int, candidate: engine.Candidate) -> dict[str, object]:
    names = ("ticked", "tags", "typed", "keys", "next_cores")
    return {name: form[name].value() for name in names} | {
        "candidate": number,
        "share": f"{candidate.share:.6f}",
    }


def _asked(request: Request, pk: UUID) -> tuple[Site, engine.CoreFormat]:
    site = access.readable_site(request.user, pk)
    format = _format(request.POST.get("format", ""))
    if format is None:
        raise Http404
    return site, format


def _format(format_id: str) -> engine.CoreFormat | None:
    try:
        return engine.load_format(format_id)
    except Refused:
        return None
