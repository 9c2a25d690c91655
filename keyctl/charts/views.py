"""The pages of lock charts."""

from typing import Any
from uuid import UUID

from django.contrib import messages
from django.core.paginator import Paginator
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from keyctl import engine
from keyctl.accounts.http import Request
from keyctl.charts import access, services
from keyctl.charts.forms import AddForm, BeginForm, MakeForm, RulesForm, SolveForm, TableForm
from keyctl.charts.grid import grid_of, marks_sent
from keyctl.charts.models import LockChart
from keyctl.charts.selectors import foreseen, found_by_solving
from keyctl.charts.services.drawing import kept_of
from keyctl.charts.sheets import EXAMPLE, example_csv
from keyctl.lib.forms import VersionForm
from keyctl.lib.http import UNPROCESSABLE
from keyctl.places.access import has_role

PER_PAGE = 25


@require_GET
def index(request: Request) -> HttpResponse:
    charts = access.readable_charts(request.user)
    facts = {
        "page": Paginator(charts, PER_PAGE).get_page(request.GET.get("page")),
        "works": access.workable_sites(request.user).exists(),
    }
    return render(request, "charts/list.html", facts)


@require_http_methods(["GET", "POST"])
def begin(request: Request) -> HttpResponse:
    access.refuse_idle(request.user)
    sent = (request.POST, request.FILES) if request.method == "POST" else (None, None)
    form = BeginForm(*sent, actor=request.user)
    if request.method == "POST" and (chart := form.attempt(services.create_chart, actor=request.user)):
        return redirect("charts:detail", chart.pk)
    facts = {"form": form, "example": EXAMPLE}
    return render(request, "charts/begin.html", facts, status=UNPROCESSABLE if form.errors else 200)


@require_GET
def example(request: Request) -> HttpResponse:
    """A small chart in the layout that is read."""
    access.refuse_idle(request.user)
    answer = HttpResponse(example_csv(), content_type="text/csv; charset=utf-8")
    answer["Content-Disposition"] = 'attachment; filename="lock-chart.csv"'
    return answer


@require_GET
def detail(request: Request, pk: UUID) -> HttpResponse:
    return _page(request, access.readable_chart(request.user, pk))


@require_http_methods(["GET", "POST"])
def draw(request: Request, pk: UUID) -> HttpResponse:
    """Adding keys and locks, or taking over a table."""
    chart = access.workable_chart(request.user, pk)
    form = AddForm(request.POST or None, seen=chart)
    if request.method == "POST" and (
        found := form.attempt(services.add_to_chart, actor=request.user, chart=chart)
    ):
        return redirect("charts:mark", found.pk)
    facts = {"chart": chart, "form": form, "table_form": TableForm(seen=chart), "example": EXAMPLE}
    return render(request, "charts/draw.html", facts, status=UNPROCESSABLE if form.errors else 200)


@require_POST
def table(request: Request, pk: UUID) -> HttpResponse:
    chart = access.workable_chart(request.user, pk)
    form = TableForm(request.POST, request.FILES, seen=chart)
    if form.attempt(services.take_over_table, actor=request.user, chart=chart):
        return redirect("charts:detail", chart.pk)
    facts = {"chart": chart, "form": AddForm(seen=chart), "table_form": form, "example": EXAMPLE}
    return render(request, "charts/draw.html", facts, status=UNPROCESSABLE)


@require_http_methods(["GET", "POST"])
def mark(request: Request, pk: UUID) -> HttpResponse:
    """One page of the chart's squares to change."""
    chart = access.workable_chart(request.user, pk)
    form = VersionForm(request.POST or None, seen=chart)
    if request.method == "POST":
        marks = dict(marks_sent(chart, request.POST))
        if form.attempt(services.mark_pairs, actor=request.user, chart=chart, marks=marks):
            messages.success(request, _("The marks are kept."))
            return redirect(f"{request.path}?{request.GET.urlencode()}")
    facts = {"chart": chart, "form": form, "grid": grid_of(chart, request.GET)}
    return render(request, "charts/mark.html", facts, status=UNPROCESSABLE if form.errors else 200)


@require_POST
def accept(request: Request, pk: UUID) -> HttpResponse:
    chart = access.workable_chart(request.user, pk)
    form = VersionForm(request.POST, seen=chart)
    if form.attempt(services.accept_pairs, actor=request.user, chart=chart) is None:
        return _page(request, chart, form)
    messages.success(request, _("Accepted: these pairs do not matter any more."))
    return redirect("charts:detail", chart.pk)


@require_POST
def rules(request: Request, pk: UUID) -> HttpResponse:
    chart = access.workable_chart(request.user, pk)
    form = RulesForm(request.POST, seen=chart)
    if form.attempt(services.set_rules, actor=request.user, chart=chart) is None:
        return _page(request, chart, form)
    return redirect("charts:detail", chart.pk)


@require_POST
def solve(request: Request, pk: UUID) -> HttpResponse:
    chart = access.workable_chart(request.user, pk)
    form = SolveForm(request.POST, seen=chart)
    job = form.attempt(services.start_solving, actor=request.user, chart=chart)
    return _page(request, chart, form) if job is None else redirect("jobs:detail", job.pk)


@require_POST
def make(request: Request, pk: UUID) -> HttpResponse:
    chart = access.workable_chart(request.user, pk)
    form = MakeForm(request.POST, seen=chart)
    job = form.attempt(services.start_making, actor=request.user, chart=chart)
    return _page(request, chart, form) if job is None else redirect("jobs:detail", job.pk)


def _page(request: Request, chart: LockChart, form: VersionForm | None = None) -> HttpResponse:
    # After a refusal the page shows the chart as it is now, which may be why it was refused.
    chart = access.readable_chart(request.user, chart.pk)
    works = chart.is_open and has_role(request.user, chart.site, *access.WORKERS)
    facts: dict[str, Any] = {
        "chart": chart,
        "format": engine.load_format(chart.format_id),
        "grid": grid_of(chart, request.GET),
        "form": form,
        "found": found_by_solving(chart),
        "works": works,
        "version_form": VersionForm(seen=chart),
        "solve_form": form if isinstance(form, SolveForm) else SolveForm(seen=chart),
        "rules_form": form if isinstance(form, RulesForm) else RulesForm(seen=chart),
        "make_form": form if isinstance(form, MakeForm) else MakeForm(seen=chart),
    }
    if works and chart.locks and chart.state != LockChart.State.SOLVED:
        facts["foreseen"] = foreseen(chart, kept_of(chart))
    return render(
        request,
        "charts/detail.html",
        facts,
        status=UNPROCESSABLE if form is not None and form.errors else 200,
    )
