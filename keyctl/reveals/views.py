"""What I may see, what I asked for, what I decide; and who saw what. No page here shows a bitting."""

from typing import Any
from uuid import UUID

from django.contrib import messages
from django.core.exceptions import PermissionDenied
from django.core.paginator import Paginator
from django.http import Http404, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from keyctl.accounts.fresh import fresh_sign_in
from keyctl.accounts.http import Request
from keyctl.accounts.models import User
from keyctl.lib.errors import Refused
from keyctl.lib.http import UNPROCESSABLE
from keyctl.lib.retold import retold
from keyctl.places.access import has_role
from keyctl.places.selectors import visible_history
from keyctl.reveals import access, selectors, services
from keyctl.reveals.forms import AskForm, AskForMoreForm, DeclineForm, GrantForm, LimitsForm
from keyctl.reveals.models import Permission
from keyctl.reveals.things import find_thing

ASKED_SHOWN = 20
PER_PAGE = 50


@require_GET
def home(request: Request) -> HttpResponse:
    access.visited_sites(request.user)
    now = timezone.now()
    context = {
        "quotas": selectors.quotas_of(request.user),
        "open": selectors.open_permissions(request.user, now),
        "asked": selectors.asked_by(request.user)[:ASKED_SHOWN],
        "waiting": selectors.waiting_for(request.user),
        "standing": selectors.standing_at(request.user, now),
        "decides": access.deciding_sites(request.user).exists(),
        "reads": access.reading_sites(request.user).exists(),
        "set_sites": access.setting_sites(request.user),
    }
    return render(request, "reveals/home.html", context)


@require_http_methods(["GET", "POST"])
def ask(request: Request, kind: str, pk: UUID) -> HttpResponse:
    """Ask to see one thing."""
    secret = find_thing(request.user, kind, pk)
    form = AskForm(request.POST or None)
    made = form.attempt(services.ask_to_see, actor=request.user, secret=secret)
    facts = {"what": retold(secret.words), "back_url": secret.url, "is_high": secret.is_high}
    return _asked(request, form, made, facts)


@require_http_methods(["GET", "POST"])
def more(request: Request, pk: UUID) -> HttpResponse:
    """Ask to see more than the quota of a site lets."""
    site = access.seeing_site(request.user, pk)
    form = AskForMoreForm(request.POST or None)
    made = form.attempt(services.ask_for_more, actor=request.user, site=site)
    return _asked(request, form, made, {"what": _("more at {site}").format(site=site), "site": site})


@require_GET
def permission(request: Request, pk: UUID) -> HttpResponse:
    return _page(request, access.readable_permission(request.user, pk))


@require_POST
def grant(request: Request, pk: UUID) -> HttpResponse:
    found = access.decidable_permission(request.user, pk)
    form = GrantForm(request.POST, auto_id="grant-%s")
    facts = {"actor": request.user, "permission": found, "sign_in": fresh_sign_in(request)}
    if done := form.attempt(services.grant, **facts):
        messages.success(
            request,
            _("{asked_by} may look until {localtime:%H:%M}.").format(
                asked_by=done.asked_by, localtime=timezone.localtime(done.until)
            ),
        )
        return redirect("reveals:home")
    return _page(request, found, grant=form)


@require_POST
def decline(request: Request, pk: UUID) -> HttpResponse:
    found = access.decidable_permission(request.user, pk)
    form = DeclineForm(request.POST, auto_id="decline-%s")
    if form.attempt(services.decline, actor=request.user, permission=found):
        messages.success(request, _("Declined; whoever asked is told why."))
        return redirect("reveals:home")
    return _page(request, found, decline=form)


@require_POST
def withdraw(request: Request, pk: UUID) -> HttpResponse:
    found = access.readable_permission(request.user, pk)
    services.withdraw_permission(actor=request.user, permission=found)
    messages.success(request, _("The permission is taken back."))
    return redirect("reveals:home")


@require_GET
def register(request: Request) -> HttpResponse:
    """Who saw what, when and on what ground."""
    rows = access.readable_reveals(request.user)
    only = request.GET.get("only", "")
    if only == "high":
        rows = rows.filter(is_high=True)
    if only == "own":
        rows = rows.filter(is_own_work=True)
    context = {
        "page": Paginator(rows, PER_PAGE).get_page(request.GET.get("page")),
        "only": only,
        "query": f"only={only}" if only in {"high", "own"} else "",
    }
    return render(request, "reveals/register.html", context)


@require_http_methods(["GET", "POST"])
def limits(request: Request, pk: UUID) -> HttpResponse:
    site = access.set_site(request.user, pk)
    form = LimitsForm(request.POST or None, seen=selectors.limits_at(site))
    if form.attempt(services.set_limits, actor=request.user, site=site):
        messages.success(request, _("The limits at {site} are set.").format(site=site))
        return redirect("reveals:home")
    context = {"site": site, "form": form}
    return render(request, "reveals/limits.html", context, status=UNPROCESSABLE if form.errors else 200)


def _asked(request: Request, form: AskForm, made: Permission | None, facts: dict[str, Any]) -> HttpResponse:
    if made:
        messages.success(request, _("Asked. The security officers of the site are told by mail."))
        return redirect("reveals:permission", made.pk)
    status = UNPROCESSABLE if form.errors else 200
    return render(request, "reveals/ask.html", {"form": form, **facts}, status=status)


def _page(request: Request, found: Permission, **forms: Any) -> HttpResponse:
    is_mine = found.asked_by_id == request.user.pk
    is_officer = has_role(request.user, found.site, *access.DECIDERS)
    is_waiting = found.state == Permission.State.ASKED
    context = {
        "permission": found,
        "is_mine": is_mine,
        "may_decide": is_officer and is_waiting and not is_mine,
        "may_withdraw": (is_mine and is_waiting) or (found.is_open and (is_mine or is_officer)),
        "grant": GrantForm(auto_id="grant-%s"),
        "decline": DeclineForm(auto_id="decline-%s"),
        "events": visible_history(request.user, found),
        "thing_url": _thing_url(request.user, found) if is_mine and found.is_open else "",
        **forms,
    }
    return render(request, "reveals/permission.html", context, status=UNPROCESSABLE if forms else 200)


def _thing_url(actor: User, found: Permission) -> str:
    """Where it can be looked at; nowhere for a number of looks, or where the role is gone."""
    try:
        return find_thing(actor, found.kind, found.subject_id).url
    except (Http404, PermissionDenied, Refused):
        return ""
