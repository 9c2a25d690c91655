"""A holder's own report of a loss, and the desk that confirms it."""

from uuid import UUID

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from keyctl.accounts.http import Request
from keyctl.lib.http import UNPROCESSABLE
from keyctl.losses import access, services
from keyctl.losses.forms import ConfirmForm, OwnLossForm, RefuseForm, waiting_words
from keyctl.losses.models import LossReport


@require_http_methods(["GET", "POST"])
def own(request: Request, pk: UUID) -> HttpResponse:
    """I lost a key: for who holds it."""
    copy = access.own_copy(request.user, pk)
    form = OwnLossForm(request.POST or None)
    if request.method == "POST" and (
        _report := form.attempt(services.report_own_loss, actor=request.user, copy=copy)
    ):
        messages.success(request, _("The desk knows of it now and calls you. Keep looking for the key."))
        return redirect("keys:holder", copy.holder_id)
    reports = access.own_reports(request.user, copy)
    waits = any(report.state == LossReport.State.WAITING for report in reports)
    facts = {"copy": copy, "form": form, "reports": reports, "waits": waits}
    return render(request, "losses/own.html", facts, status=UNPROCESSABLE if form.errors else 200)


@require_GET
def report(request: Request, pk: UUID) -> HttpResponse:
    return _page(request, access.confirmable_report(request.user, pk))


@require_POST
def confirm(request: Request, pk: UUID) -> HttpResponse:
    report = access.confirmable_report(request.user, pk)
    form = ConfirmForm(request.POST, auto_id="confirm_%s")
    done = form.attempt(services.confirm_report, actor=request.user, report=report)
    if done is None:
        return _page(request, report, confirm_form=form)
    messages.success(request, _("The copy is lost now, and its case is open."))
    return redirect("losses:detail", done.case_id)


@require_POST
def refuse(request: Request, pk: UUID) -> HttpResponse:
    report = access.confirmable_report(request.user, pk)
    form = RefuseForm(request.POST, auto_id="refuse_%s")
    if form.attempt(services.refuse_report, actor=request.user, report=report) is None:
        return _page(request, report, refuse_form=form)
    messages.success(request, _("Not a loss. The holder reads your answer."))
    return redirect("losses:list")


def _page(
    request: Request,
    report: LossReport,
    confirm_form: ConfirmForm | None = None,
    refuse_form: RefuseForm | None = None,
) -> HttpResponse:
    facts = {
        "report": access.confirmable_report(request.user, report.pk),
        "words": waiting_words(report),
        "confirm_form": confirm_form or ConfirmForm(auto_id="confirm_%s"),
        "refuse_form": refuse_form or RefuseForm(auto_id="refuse_%s"),
        "form": confirm_form or refuse_form,
    }
    refused = bool(confirm_form or refuse_form)
    return render(request, "losses/report.html", facts, status=UNPROCESSABLE if refused else 200)
