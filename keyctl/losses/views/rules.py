"""The rules that say what is due after a loss, and the keys that are past their limit now."""

from uuid import UUID

from django.contrib import messages
from django.core.paginator import Paginator
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from keyctl.accounts.http import Request
from keyctl.lib.http import UNPROCESSABLE
from keyctl.losses import access, selectors, services
from keyctl.losses.forms import RuleForm
from keyctl.losses.services.ruling import shares_at
from keyctl.losses.standing import keys_past_limit

KEYS_ON_A_PAGE = 25


@require_GET
def rules(request: Request) -> HttpResponse:
    sites = access.readable_sites(request.user)
    mine = set(access.ruled_sites_of(request.user).values_list("pk", flat=True))
    facts = {"sites": [(site, selectors.rules_of(site), site.pk in mine) for site in sites]}
    return render(request, "losses/rules.html", facts)


@require_http_methods(["GET", "POST"])
def rule(request: Request, pk: UUID) -> HttpResponse:
    site = access.ruled_site(request.user, pk)
    form = RuleForm(request.POST or None, shares=shares_at(site))
    if request.method == "POST" and (done := form.attempt(services.set_rules, actor=request.user, site=site)):
        messages.success(
            request,
            _("The rules of {done} are set. Open cases follow them at their next look.").format(done=done),
        )
        return redirect("losses:rules")
    facts = {"site": site, "form": form}
    return render(request, "losses/rule.html", facts, status=UNPROCESSABLE if form.errors else 200)


@require_GET
def limits(request: Request) -> HttpResponse:
    """Keys past their limit over one's sites, whether or not a case is open for them."""
    past, below = keys_past_limit(request.user)
    page = Paginator(past, KEYS_ON_A_PAGE).get_page(request.GET.get("page"))
    may_open = set(access.reporting_sites(request.user).values_list("pk", flat=True))
    return render(request, "losses/limits.html", {"page": page, "below": below, "may_open": may_open})


@require_POST
def take_up(request: Request, pk: UUID) -> HttpResponse:
    """A case for lost copies that stand in none."""
    copy = access.reportable_copy(request.user, pk)
    case = services.take_up(actor=request.user, copy=copy)
    messages.success(
        request, _("{case} is open for the lost copies of {symbol}.").format(case=case, symbol=copy.symbol)
    )
    return redirect("losses:detail", case.pk)
