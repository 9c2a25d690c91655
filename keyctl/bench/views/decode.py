"""Reading pins taken out of a core, recording them, and measuring them against the lines."""

from typing import Any
from uuid import UUID, uuid4

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _
from django.utils.translation import ngettext
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_http_methods, require_POST

from keyctl import engine
from keyctl.accounts.fresh import fresh_sign_in
from keyctl.accounts.http import Request
from keyctl.bench.chart import draw_residuals
from keyctl.bench.forms import MeasuredPins, PinsTakenOut, RecordFound
from keyctl.bench.jobs import Job, address_of, job_of
from keyctl.bench.services import Decoding, decode_pins, measure_pins, record_found_pins, why_not_to_record
from keyctl.bench.tables import decoded_rows, doubt_rows
from keyctl.bench.views.choosing import choose
from keyctl.cores.access import workable_core
from keyctl.cores.drawing import Drawing, draw
from keyctl.cores.section import Section, draw_section
from keyctl.lib.http import UNPROCESSABLE


@never_cache
@require_http_methods(["GET", "POST"])
def decode(request: Request) -> HttpResponse:
    job = job_of(request.user, request.GET)
    if job is None:
        return choose(request, "bench:decode", _("Read the pins of a core"))
    sent = request.POST if request.method == "POST" else None
    form = PinsTakenOut(sent, format=job.format)
    decoding = _attempted(request, form, job) if sent is not None else None
    return _decoded(request, job, form, decoding)


@never_cache
@require_POST
def record_found(request: Request, pk: UUID) -> HttpResponse:
    core = workable_core(request.user, pk)
    form = RecordFound(request.POST)
    found = form.attempt(record_found_pins, actor=request.user, core=core)
    if found is None:
        context = {"core": core, "form": form, "again": address_of("bench:decode", core=core)}
        return render(request, "bench/not_recorded.html", context, status=UNPROCESSABLE)
    messages.success(request, _("The pins found in core {core} are recorded.").format(core=core))
    if count := found.comparison.count:
        words = ngettext(
            "{count} key does something else to it than planned. Repin it to the plan.",
            "{count} keys do something else to it than planned. Repin it to the plan.",
            count,
        )
        messages.warning(request, words.format(count=count))
    return redirect("cores:detail", pk=core.pk)


@never_cache
@require_http_methods(["GET", "POST"])
def measure(request: Request) -> HttpResponse:
    job = job_of(request.user, request.GET)
    if job is None:
        return choose(request, "bench:measure", _("Measure a core"))
    sent = request.POST if request.method == "POST" else None
    form = MeasuredPins(sent, format=job.format)
    measuring = form.attempt(measure_pins, actor=request.user, job=job) if sent is not None else None
    chart = measuring and draw_residuals(measuring.job.format, measuring.residuals, measuring.tolerance_in)
    context = {"job": job, "form": form, "chart": chart}
    return render(request, "bench/measure.html", context, status=UNPROCESSABLE if form.errors else 200)


def _attempted(request: Request, form: PinsTakenOut, job: Job) -> Decoding | None:
    """What is compared with the records wants a proof of who asks; what was only typed does not."""
    compares = job.core is not None and job.core.is_pinned
    sign_in = fresh_sign_in(request) if compares else None
    return form.attempt(decode_pins, actor=request.user, job=job, sign_in=sign_in)


def _decoded(request: Request, job: Job, form: PinsTakenOut, decoding: Decoding | None) -> HttpResponse:
    context: dict[str, Any] = {"job": job, "form": form, "decoding": decoding}
    if decoding:
        context |= {
            "rows": decoded_rows(job.format, decoding.reading),
            "doubts": doubt_rows(job.format, [*decoding.reading.doubts, *decoding.reading.open_control]),
            "must_stand_by": bool(decoding.reading.doubts),
            "drawing": _drawing(decoding),
            "section": _section(decoding, form.bitting) if form.bitting else None,
        }
    if decoding and job.core:
        facts = {"version": job.core.version, "stacks": decoding.stacks}
        context |= {"record": RecordFound(initial=facts), "obstacle": why_not_to_record(job.core)}
    return render(request, "bench/decode.html", context, status=UNPROCESSABLE if form.errors else 200)


def _drawing(decoding: Decoding) -> Drawing:
    title = _("Pins of {core}").format(core=decoding.job.name)
    return draw(decoding.reading.pinning, name=f"d{uuid4().hex[:8]}", title=title)


def _section(decoding: Decoding, bitting: engine.Bitting) -> Section:
    title = _("The typed key in {core}").format(core=decoding.job.name)
    return draw_section(decoding.reading.pinning, bitting, name=f"k{uuid4().hex[:8]}", title=title)
