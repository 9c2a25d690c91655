"""Repinning: which keys, which pins to change, and the word that it is done."""

from typing import Any
from uuid import UUID, uuid4

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from keyctl.accounts.fresh import fresh_sign_in
from keyctl.accounts.http import Request
from keyctl.bench.access import bench_site
from keyctl.bench.forms import ChooseSymbols
from keyctl.bench.services import RepinJob, repin_core, why_not_to_repin, work_out_repin
from keyctl.bench.tables import chamber_rows, kit_rows
from keyctl.bench.views.choosing import choose
from keyctl.cores.access import workable_core
from keyctl.cores.drawing import draw
from keyctl.cores.models import Core
from keyctl.lib.http import UNPROCESSABLE


@require_GET
def repin_choose(request: Request) -> HttpResponse:
    bench_site(request.user)
    return choose(request, "bench:repin", _("Repin a core"), needs_core=True)


@never_cache
@require_http_methods(["GET", "POST"])
def repin(request: Request, pk: UUID) -> HttpResponse:
    """Choose the keys; sent, the same page shows the pins to change."""
    core = workable_core(request.user, pk)
    sent = request.POST if request.method == "POST" else None
    form = ChooseSymbols(sent, core=core, initial=_as_it_is(core))
    if sent is None:
        return _page(request, core, form, None)
    facts = {"actor": request.user, "core": core, "sign_in": fresh_sign_in(request)}
    return _page(request, core, form, form.attempt(work_out_repin, **facts))


@never_cache
@require_POST
def repin_done(request: Request, pk: UUID) -> HttpResponse:
    core = workable_core(request.user, pk)
    form = ChooseSymbols(request.POST, core=core)
    done = form.attempt(repin_core, actor=request.user, core=core)
    if done is None:
        return _page(request, core, form, None)
    messages.success(
        request,
        _("Core {done} is repinned, and its keys are worked out anew from its pins.").format(done=done),
    )
    return redirect("cores:detail", pk=done.pk)


def _as_it_is(core: Core) -> dict[str, Any]:
    symbols = core.keyed_to.order_by("symbol")
    return {"version": core.version, "symbols": ", ".join(map(str, symbols))}


def _page(request: Request, core: Core, form: ChooseSymbols, job: RepinJob | None) -> HttpResponse:
    context = {"core": core, "form": form, "job": job, "obstacle": why_not_to_repin(core)}
    status = UNPROCESSABLE if form.errors else 200
    return render(request, "bench/repin.html", context | _shown(job), status=status)


def _shown(job: RepinJob | None) -> dict[str, Any]:
    if job is None:
        return {}
    format = job.target.format
    return {
        "format": format,
        "chambers": chamber_rows(format, job.change),
        "from_kit": kit_rows(format, job.change.add),
        "to_kit": kit_rows(format, job.change.remove),
        "drawing": draw(
            job.target,
            name=f"r{uuid4().hex[:8]}",
            title=_("Pins that core {core} shall have").format(core=job.core),
        ),
    }
