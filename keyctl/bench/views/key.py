"""Reading a key by calipers."""

from django.http import HttpResponse
from django.shortcuts import render
from django.utils.translation import gettext as _
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_http_methods

from keyctl import engine
from keyctl.accounts.fresh import fresh_sign_in
from keyctl.accounts.http import Request
from keyctl.bench.access import bench_site, site_of
from keyctl.bench.forms import ChooseKeySource, RootDepths
from keyctl.bench.services import read_key_by_calipers
from keyctl.bench.tables import doubt_rows
from keyctl.lib.http import UNPROCESSABLE


@never_cache
@require_http_methods(["GET", "POST"])
def read_key(request: Request) -> HttpResponse:
    here = bench_site(request.user)
    source = ChooseKeySource(request.GET if _is_chosen(request) else None, actor=request.user)
    if not source.is_valid():
        status = UNPROCESSABLE if source.errors else 200
        return render(request, "bench/choose.html", {"form": source, "act": _("Read a key")}, status=status)
    system = source.cleaned_data["system"]
    format = engine.load_format(system.format_id if system else source.cleaned_data["format"])
    sent = request.POST if request.method == "POST" else None
    form = RootDepths(sent, format=format)
    site = site_of(request.user, system) if system else here
    facts = {"actor": request.user, "site": site, "format": format, "system": system}
    if sent is not None and system:
        facts["sign_in"] = fresh_sign_in(request)
    found = form.attempt(read_key_by_calipers, **facts) if sent is not None else None
    context = {"form": form, "format": format, "system": system, "found": found}
    if found:
        context["doubts"] = doubt_rows(format, found.reading.doubts)
    return render(request, "bench/read_key.html", context, status=UNPROCESSABLE if form.errors else 200)


def _is_chosen(request: Request) -> bool:
    return "system" in request.GET or "format" in request.GET
