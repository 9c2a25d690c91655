"""The register: every line, each act with its signature, and the deposits."""

from uuid import UUID

from django.core.paginator import Paginator
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils.translation import gettext as _
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from keyctl.accounts.http import Request
from keyctl.keys import access, selectors, services
from keyctl.keys.forms import KeepDepositForm
from keyctl.keys.lists import REGISTER, day_of
from keyctl.keys.models import Deposit
from keyctl.keys.signing import HEIGHT, WIDTH
from keyctl.keys.views.answers import ask, did, done, posted
from keyctl.keys.views.lists import PER_PAGE
from keyctl.lib.forms import ServiceForm
from keyctl.listing.paging import LeanPaginator
from keyctl.listing.shown import shown_list
from keyctl.vault import services as vault


@require_GET
def register(request: Request) -> HttpResponse:
    access.refuse_outsiders(request.user)
    shown = shown_list(request, REGISTER)
    if shown.leads_to:
        return redirect(shown.leads_to)
    lines = shown.ordered(REGISTER.rows(request.user, shown.said))
    facts = {
        "text": shown.said.get("q", ""),
        "day": day_of(shown.said.get("day", "")),
        "page": LeanPaginator(lines, PER_PAGE).get_page(request.GET.get("page")),
        "shown": shown,
        "query": shown.query,
    }
    return render(request, "keys/register.html", facts)


@never_cache
@require_GET
def act(request: Request, pk: UUID) -> HttpResponse:
    found = access.readable_act(request.user, pk)
    facts = {
        "act": found,
        "lines": selectors.lines_of(found),
        "givers": selectors.givers_of(found) if found.way != found.Way.OUT else [],
        "deposit": Deposit.objects.filter(handover=found).select_related("settled_by").first(),
        # The act is read without its signature where the vault is sealed.
        "strokes": vault.unseal(found, "signature") if found.signature and not vault.why_closed() else "",
        "field": (WIDTH, HEIGHT),
        "shows_symbols": access.reads_keys(request.user, found.site),
    }
    return render(request, "keys/handover.html", facts)


@require_GET
def deposits(request: Request) -> HttpResponse:
    access.refuse_outsiders(request.user)
    page = Paginator(selectors.deposits(request.user), PER_PAGE).get_page(request.GET.get("page"))
    return render(request, "keys/deposits.html", {"page": page})


@require_POST
def give_back_deposit(request: Request, pk: UUID) -> HttpResponse:
    found = access.workable_deposit(request.user, pk)
    form = ServiceForm(request.POST)
    if form.attempt(services.give_back_deposit, actor=request.user, deposit=found):
        return done(
            request,
            _("The deposit of {found} is given back.").format(found=found),
            "keys:handover",
            found.handover_id,
        )
    return ask(request, form, title=_("Give the deposit back"), button=_("Try again"), back=_page(found))


@require_http_methods(["GET", "POST"])
def keep_deposit(request: Request, pk: UUID) -> HttpResponse:
    found = access.workable_deposit(request.user, pk)
    form = KeepDepositForm(posted(request))
    if did(form, services.keep_deposit, actor=request.user, deposit=found):
        return done(
            request,
            _("The deposit of {found} is kept.").format(found=found),
            "keys:handover",
            found.handover_id,
        )
    return ask(
        request,
        form,
        title=_("Keep the deposit of {found}").format(found=found),
        button=_("Keep it"),
        back=_page(found),
    )


def _page(deposit: Deposit) -> str:
    return reverse("keys:handover", args=[deposit.handover_id])
