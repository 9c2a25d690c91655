"""The way into the bench: the acts, and what one of them is done to."""

from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.views.decorators.http import require_GET

from keyctl.accounts.http import Request
from keyctl.bench.access import bench_site
from keyctl.bench.forms import ChooseCoreOrFormat
from keyctl.bench.jobs import address_of
from keyctl.lib.http import UNPROCESSABLE


@require_GET
def home(request: Request) -> HttpResponse:
    bench_site(request.user)
    return render(request, "bench/home.html")


def choose(request: Request, name: str, act: str, *, needs_core: bool = False) -> HttpResponse:
    """Ask for a core or a format, and go on to the page of that name with it."""
    said = request.GET if "tag" in request.GET else None
    form = ChooseCoreOrFormat(said, actor=request.user, needs_core=needs_core)
    if not form.is_valid():
        status = UNPROCESSABLE if form.errors else 200
        return render(request, "bench/choose.html", {"form": form, "act": act}, status=status)
    chosen = form.cleaned_data
    if name == "bench:repin":
        return redirect(reverse(name, args=[chosen["tag"].pk]))
    return redirect(
        address_of(name, core=chosen["tag"], format_id=chosen.get("format", ""), site=chosen.get("site"))
    )
