"""The rules of a site, their versions, and the sets to begin with."""

from typing import Any
from uuid import UUID

from django.contrib import messages
from django.http import Http404, HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from keyctl.accounts.http import Request
from keyctl.counts import access, services
from keyctl.counts.forms import RuleForm
from keyctl.counts.models import CountRule
from keyctl.counts.selectors.rules import newest_versions, rules_in_force, versions_at
from keyctl.counts.starting import SETS
from keyctl.counts.views.answering import answer
from keyctl.lib.forms import ServiceForm
from keyctl.lib.http import UNPROCESSABLE
from keyctl.places.models import Site

Subject = CountRule.Subject


@require_GET
def rules(request: Request, pk: UUID) -> HttpResponse:
    return _page(request, access.readable_site(request.user, pk))


@require_POST
def adopt(request: Request, pk: UUID) -> HttpResponse:
    site = access.ruled_site(request.user, pk)
    form = ServiceForm(request.POST)
    name = request.POST.get("name", "")
    if form.attempt(services.adopt_set, actor=request.user, site=site, name=name):
        messages.success(
            request,
            _("The rules of {site} are set. Change what your regulation asks otherwise.").format(site=site),
        )
        return redirect("counts:rules", pk)
    return _page(request, site, form)


@require_http_methods(["GET", "POST"])
def set_rule(request: Request, pk: UUID) -> HttpResponse:
    site = access.ruled_site(request.user, pk)
    subject = _subject(request.GET.get("subject", Subject.CABINETS))
    rule = newest_versions(CountRule.objects.filter(site=site, subject=subject)).get(subject)
    form = RuleForm(request.POST or None, subject=subject, rule=rule)
    if request.method == "POST":
        done = form.attempt(services.set_rule, actor=request.user, site=site, subject=subject)
        if done:
            messages.success(
                request, _("Set: {done}. Version {number} is in force.").format(done=done, number=done.number)
            )
            return redirect("counts:rules", pk)
    facts = {"site": site, "subject": subject, "rule": rule, "form": form}
    return answer(request, "counts/set_rule.html", facts, form)


@require_POST
def end_rule(request: Request, pk: UUID) -> HttpResponse:
    site = access.ruled_site(request.user, pk)
    form, subject = ServiceForm(request.POST), _subject(request.POST.get("subject", Subject.CABINETS))
    if form.attempt(services.end_rule, actor=request.user, site=site, subject=subject):
        messages.success(
            request, _("{label}: no rule asks for this count any more.").format(label=subject.label)
        )
        return redirect("counts:rules", pk)
    return _page(request, site, form)


def _subject(name: str) -> CountRule.Subject:
    if name not in Subject.values:
        raise Http404
    return Subject(name)


def _page(request: Request, site: Site, form: ServiceForm | None = None) -> HttpResponse:
    in_force = rules_in_force(site)
    facts: dict[str, Any] = {
        "site": site,
        "form": form,
        "sets_rules": access.sets_rules(request.user, site),
        "subjects": [(subject, in_force.get(subject)) for subject in Subject],
        "has_rules": bool(in_force),
        "sets": list(SETS.values()),
        "versions": versions_at(site),
    }
    return render(request, "counts/rules.html", facts, status=UNPROCESSABLE if form else 200)
