"""Decisions that wait, the rules that ask for them, and who stands in for whom."""

from uuid import UUID

from django.contrib import messages
from django.core.exceptions import PermissionDenied
from django.core.paginator import Paginator
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from keyctl.accounts.http import Request
from keyctl.approvals import access, services, waiting
from keyctl.approvals.models import ApprovalRule
from keyctl.approvals.rule_forms import FirstRuleForm, RuleForm, SubstituteForm
from keyctl.approvals.views.detail import status
from keyctl.lib.forms import ServiceForm
from keyctl.places.access import administered_site, administered_sites
from keyctl.places.models import Site

PER_PAGE = 25


@require_GET
def decisions(request: Request) -> HttpResponse:
    own = Paginator(waiting.own_decisions(request.user), PER_PAGE).get_page(request.GET.get("own"))
    page = Paginator(waiting.others_decisions(request.user), PER_PAGE).get_page(request.GET.get("page"))
    facts = {
        "own": own,
        "own_lines": waiting.lines(list(own)),
        "page": page,
        "lines": waiting.lines(list(page)),
    }
    return render(request, "approvals/decisions.html", facts)


@require_GET
def rules(request: Request) -> HttpResponse:
    sites = waiting.site_rules(request.user)
    if not sites:
        raise PermissionDenied
    return render(request, "approvals/rules.html", {"sites": sites})


@require_http_methods(["GET", "POST"])
def add_rule(request: Request, pk: UUID) -> HttpResponse:
    site = administered_site(request.user, pk)
    form = RuleForm(request.POST or None, site=site, initial={"silent_hours": 48})
    if request.method == "POST" and (done := form.attempt(services.add_rule, actor=request.user, site=site)):
        messages.success(
            request, _("Added: {done}. It holds where keys are chosen from now on.").format(done=done)
        )
        return redirect("approvals:rules")
    return _rule_page(request, site, form)


@require_http_methods(["GET", "POST"])
def change_rule(request: Request, pk: UUID) -> HttpResponse:
    rule = access.changeable_rule(request.user, pk)
    form = _form_of(request, rule)
    if request.method == "POST" and (
        done := form.attempt(services.change_rule, actor=request.user, rule=rule)
    ):
        messages.success(
            request, _("Changed: {done}. It holds where keys are chosen from now on.").format(done=done)
        )
        return redirect("approvals:rules")
    return _rule_page(request, rule.site, form, rule)


@require_POST
def remove_rule(request: Request, pk: UUID) -> HttpResponse:
    rule = access.changeable_rule(request.user, pk)
    services.remove_rule(actor=request.user, rule=rule)
    messages.success(request, _("Removed."))
    return redirect("approvals:rules")


@require_POST
def move_rule(request: Request, pk: UUID) -> HttpResponse:
    rule = access.changeable_rule(request.user, pk)
    services.move_rule_up(actor=request.user, rule=rule)
    messages.success(request, _("Moved."))
    return redirect("approvals:rules")


@require_POST
def write_rules(request: Request, pk: UUID) -> HttpResponse:
    site = administered_site(request.user, pk)
    services.write_rules_down(actor=request.user, site=site)
    messages.success(
        request, _("These are the rules of {site} now. Change what does not suit it.").format(site=site)
    )
    return redirect("approvals:rules")


@require_GET
def substitutes(request: Request) -> HttpResponse:
    sites = access.deciding_sites(request.user)
    if not sites:
        raise PermissionDenied
    changeable = set(administered_sites(request.user).values_list("pk", flat=True))
    page = Paginator(waiting.substitutes_for(request.user), PER_PAGE).get_page(request.GET.get("page"))
    facts = {"sites": sites, "page": page, "changeable": changeable}
    return render(request, "approvals/substitutes.html", facts)


@require_http_methods(["GET", "POST"])
def name_substitute(request: Request, pk: UUID) -> HttpResponse:
    site = access.deciding_site(request.user, pk)
    names_anybody = administered_sites(request.user).filter(pk=site.pk).exists()
    form = SubstituteForm(request.POST or None, site=site, actor=request.user, names_anybody=names_anybody)
    if request.method == "POST" and (
        made := form.attempt(services.name_substitute, actor=request.user, site=site)
    ):
        messages.success(
            request,
            _("Named. {stands_in} may decide from the first day on.").format(stands_in=made.stands_in),
        )
        return redirect("approvals:substitutes")
    facts = {"site": site, "form": form}
    return render(request, "approvals/substitute.html", facts, status=status(form))


@require_POST
def end_substitute(request: Request, pk: UUID) -> HttpResponse:
    found = access.endable_substitute(request.user, pk)
    services.end_substitute(actor=request.user, substitute=found)
    messages.success(
        request,
        _("Ended. {stands_in} no longer decides for {person}.").format(
            stands_in=found.stands_in, person=found.person
        ),
    )
    return redirect("approvals:substitutes")


def _form_of(request: Request, rule: ApprovalRule) -> ServiceForm:
    if services.is_first(rule):
        return FirstRuleForm(request.POST or None, initial={"silent_hours": rule.silent_hours})
    names = ("when", "level", "door_class", "extra", "who", "is_apart", "silent_hours")
    initial = {name: getattr(rule, name) for name in names}
    initial["people"] = [person.pk for person in rule.people.all()]
    return RuleForm(request.POST or None, site=rule.site, initial=initial)


def _rule_page(
    request: Request, site: Site, form: ServiceForm, rule: ApprovalRule | None = None
) -> HttpResponse:
    facts = {"site": site, "form": form, "rule": rule}
    return render(request, "approvals/rule.html", facts, status=status(form))
