"""Asking for an evidence report of counts, and those that were made."""

from uuid import UUID

from django import forms
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.translation import gettext_lazy
from django.views.decorators.http import require_http_methods

from keyctl.accounts.http import Request
from keyctl.counts.access import reporting_site, visible_reports
from keyctl.lib.forms import ServiceForm
from keyctl.lib.http import UNPROCESSABLE
from keyctl.prints.reports.evidence import start_evidence

MOST_SHOWN = 50


class EvidenceForm(ServiceForm):
    from_on = forms.DateField(
        label=gettext_lazy("From"), widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d")
    )
    until_on = forms.DateField(
        label=gettext_lazy("Until"), widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d")
    )


@require_http_methods(["GET", "POST"])
def evidence(request: Request, pk: UUID) -> HttpResponse:
    site = reporting_site(request.user, pk)
    today = timezone.localdate()
    begun = {"from_on": today.replace(month=1, day=1), "until_on": today}
    form = EvidenceForm(request.POST or None, initial=begun)
    if request.method == "POST":
        job = form.attempt(start_evidence, actor=request.user, site=site)
        if job:
            return redirect("jobs:detail", job.pk)
    reports = visible_reports(request.user).filter(site=site)[:MOST_SHOWN]
    facts = {"site": site, "form": form, "reports": reports}
    return render(request, "prints/evidence_form.html", facts, status=UNPROCESSABLE if form.errors else 200)
