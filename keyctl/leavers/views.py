"""The recovery list, a case, and what is done about it."""

from typing import Any
from uuid import UUID

from django.contrib import messages
from django.core.paginator import Paginator
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.http import urlencode
from django.utils.translation import gettext as _
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from keyctl.accounts.http import Request
from keyctl.audit.selectors import history_of
from keyctl.leavers import access, selectors, services
from keyctl.leavers.forms import AnnounceForm, CloseForm, PauseForm, RulesForm
from keyctl.leavers.models import LeaverCase
from keyctl.lib.forms import ServiceForm, VersionForm
from keyctl.lib.http import UNPROCESSABLE
from keyctl.places.access import administered_sites, has_role

PER_PAGE = 25


@require_GET
def index(request: Request) -> HttpResponse:
    access.refuse_outsiders(request.user)
    today = timezone.localdate()
    show = request.GET.get("show", "gone")
    show = show if show in selectors.SHOWS else "gone"
    cases = selectors.cases_shown(request.user, show, today)
    listed: Any = selectors.recovery_list(cases) if show == "gone" else cases
    page = Paginator(listed, PER_PAGE).get_page(request.GET.get("page"))
    facts = {
        "show": show,
        "page": page,
        "rows": list(page) if show == "gone" else selectors.rows_of(list(page)),
        "counts": selectors.counts(request.user, today),
        "query": urlencode({"show": show}),
        "ruled": administered_sites(request.user),
    }
    return render(request, "leavers/list.html", facts)


@require_GET
def detail(request: Request, pk: UUID) -> HttpResponse:
    return _page(request, access.readable_case(request.user, pk))


@require_POST
def remind(request: Request, pk: UUID) -> HttpResponse:
    case = access.kept_case(request.user, pk)
    form = VersionForm(request.POST, seen=case)
    done = form.attempt(services.remind_now, actor=request.user, case=case)
    return _answer(
        request, case, form, done, _("The reminder is written; it goes out with the next mail round.")
    )


@require_POST
def pause(request: Request, pk: UUID) -> HttpResponse:
    case = access.kept_case(request.user, pk)
    form = PauseForm(request.POST, seen=case)
    done = form.attempt(services.pause_reminders, actor=request.user, case=case)
    return _answer(request, case, form, done, _("The reminders rest."))


@require_POST
def resume(request: Request, pk: UUID) -> HttpResponse:
    case = access.kept_case(request.user, pk)
    form = VersionForm(request.POST, seen=case)
    done = form.attempt(services.end_pause, actor=request.user, case=case)
    return _answer(request, case, form, done, _("The reminders go on."))


@require_POST
def close(request: Request, pk: UUID) -> HttpResponse:
    case = access.closable_case(request.user, pk)
    form = CloseForm(request.POST, seen=case)
    done = form.attempt(services.close_case, actor=request.user, case=case)
    return _answer(request, case, form, done, _("The case is closed, with your reason."))


@require_POST
def stay(request: Request, pk: UUID) -> HttpResponse:
    case = access.kept_case(request.user, pk)
    form = VersionForm(request.POST, seen=case)
    done = form.attempt(services.cancel_announcement, actor=request.user, case=case)
    return _answer(
        request, case, form, done, _("{holder} stays; nobody asks for the keys.").format(holder=case.holder)
    )


@require_http_methods(["GET", "POST"])
def announce(request: Request, pk: UUID) -> HttpResponse:
    holder = access.leaving_holder(request.user, pk)
    form = AnnounceForm(request.POST if request.method == "POST" else None, holder=holder)
    if request.method == "POST":
        case = form.attempt(services.tell_leaving, actor=request.user, holder=holder)
        if case:
            messages.success(
                request,
                _("Written down. The case of {holder} stands here until the keys are back.").format(
                    holder=holder
                ),
            )
            return redirect("leavers:detail", case.pk)
        if not form.errors:
            messages.success(
                request,
                _("{holder} has left. They hold no key, so there is nothing to call back.").format(
                    holder=holder
                ),
            )
            return redirect("keys:holder", holder.pk)
    facts = {"holder": holder, "form": form}
    return render(request, "leavers/announce.html", facts, status=UNPROCESSABLE if form.errors else 200)


@require_http_methods(["GET", "POST"])
def rules(request: Request, pk: UUID) -> HttpResponse:
    site = access.ruled_site(request.user, pk)
    form = RulesForm(request.POST or None, rules=services.rules_of(site))
    if request.method == "POST":
        done = form.attempt(services.set_rules, actor=request.user, site=site)
        if done:
            messages.success(
                request, _("Leavers at {site} are reminded like this from now on.").format(site=site)
            )
            return redirect("leavers:list")
    facts = {"site": site, "form": form}
    return render(request, "leavers/rules.html", facts, status=UNPROCESSABLE if form.errors else 200)


def _answer(
    request: Request, case: LeaverCase, form: ServiceForm, done: object, sentence: str
) -> HttpResponse:
    if done is None:
        return _page(request, access.readable_case(request.user, case.pk), form)
    messages.success(request, sentence)
    return redirect("leavers:detail", case.pk)


def _page(request: Request, case: LeaverCase, form: ServiceForm | None = None) -> HttpResponse:
    site = case.holder.site
    facts: dict[str, Any] = {
        "case": case,
        "stake": selectors.stake_of(case),
        "ended": selectors.came_back(case),
        "requests": selectors.requests_of(case),
        "deposits": selectors.deposits_of(case),
        "reminders": case.reminders.select_related("notice", "sent_by"),
        "rules": services.rules_of(site),
        "keeps": case.is_open and has_role(request.user, site, *access.KEEPERS),
        "closes": case.is_open and has_role(request.user, site, *access.CLOSERS),
        "form": form,
        "pause_form": form if isinstance(form, PauseForm) else PauseForm(seen=case),
        "close_form": form if isinstance(form, CloseForm) else CloseForm(seen=case),
        "events": history_of(case),
    }
    status = UNPROCESSABLE if form is not None and form.errors else 200
    return render(request, "leavers/detail.html", facts, status=status)
