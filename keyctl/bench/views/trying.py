"""Trying a key in a core."""

from uuid import uuid4

from django.http import HttpResponse
from django.shortcuts import render
from django.utils.translation import gettext as _
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_http_methods

from keyctl.accounts.fresh import fresh_sign_in
from keyctl.accounts.http import Request
from keyctl.bench.forms import TryKey
from keyctl.bench.jobs import job_of
from keyctl.bench.services import Trial, try_key_in_core
from keyctl.bench.views.choosing import choose
from keyctl.cores.models import Core
from keyctl.cores.section import Section, draw_section
from keyctl.lib.http import UNPROCESSABLE


@never_cache
@require_http_methods(["GET", "POST"])
def try_key(request: Request) -> HttpResponse:
    job = job_of(request.user, request.GET)
    if job is None or job.core is None:
        return choose(request, "bench:try", _("Try a key in a core"), needs_core=True)
    sent = request.POST if request.method == "POST" else None
    form = TryKey(sent, actor=request.user, core=job.core)
    trial = None
    if sent is not None:
        facts = {"actor": request.user, "core": job.core, "sign_in": fresh_sign_in(request)}
        trial = form.attempt(try_key_in_core, **facts)
    return _page(request, job.core, form, trial)


def _page(request: Request, core: Core, form: TryKey, trial: Trial | None) -> HttpResponse:
    """The whole page; a request of the form on it swaps in the part that tells what the key does."""
    context = {"core": core, "form": form, "trial": trial, "section": trial and _section(trial)}
    template = "bench/_tried.html" if request.htmx else "bench/try.html"
    return render(request, template, context, status=UNPROCESSABLE if form.errors else 200)


def _section(trial: Trial) -> Section:
    return draw_section(
        trial.pinned,
        trial.bitting,
        name=f"t{uuid4().hex[:8]}",
        title=_("Core {core} with key {key} in it").format(core=trial.core, key=trial.symbol),
        blank=trial.blank,
    )
