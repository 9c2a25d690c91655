"""Overdue keys by holder: what was mailed, who is paused and why, and the site's rules."""

from typing import Any
from uuid import UUID

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from keyctl.accounts.http import Request
from keyctl.desk import access, selectors, services
from keyctl.desk.forms import DueRulesForm, PauseForm
from keyctl.lib.forms import ServiceForm
from keyctl.lib.http import UNPROCESSABLE
from keyctl.places.access import has_role
from keyctl.places.models import Site

PAUSES_SHOWN = 10


@require_GET
def reminders(request: Request, pk: UUID) -> HttpResponse:
    site = access.reminded_site(request.user, pk)
    facts = {
        "site": site,
        "rules": selectors.due_rules(site),
        "rows": selectors.overdue_holders(site),
        "may_rule": has_role(request.user, site, *access.RULERS),
        "may_pause": has_role(request.user, site, *access.PAUSERS),
    }
    return render(request, "desk/reminders.html", facts)


@require_http_methods(["GET", "POST"])
def rules(request: Request, pk: UUID) -> HttpResponse:
    site = access.ruled_site(request.user, pk)
    now = selectors.due_rules(site)
    initial = {name: getattr(now, name) for name in DueRulesForm.base_fields}
    form = DueRulesForm(request.POST or None, initial=initial)
    if request.method == "POST":
        ruled = form.attempt(services.set_due_rules, actor=request.user, site=site)
        if ruled:
            return _told(request, site, _("Reminders go out by these rules from now on."))
    return _form(request, site, form, _("Reminders of due keys"), _("Save the rules"))


@require_http_methods(["GET", "POST"])
def pause(request: Request, pk: UUID) -> HttpResponse:
    holder = access.pausable_holder(request.user, pk)
    form = PauseForm(request.POST or None)
    if request.method == "POST":
        made = form.attempt(services.pause_reminders, actor=request.user, holder=holder)
        if made:
            return _told(request, holder.site, _("Reminders to {holder} rest.").format(holder=holder))
    facts = {
        "holder": holder,
        "pauses": holder.due_pauses.select_related("made_by", "ended_by")[:PAUSES_SHOWN],
    }
    title = _("Pause reminders to {holder}").format(holder=holder)
    return _form(request, holder.site, form, title, _("Pause them"), **facts)


@require_POST
def end_pause(request: Request, pk: UUID) -> HttpResponse:
    holder = access.pausable_holder(request.user, pk)
    services.end_pause(actor=request.user, holder=holder)
    return _told(request, holder.site, _("Reminders to {holder} go on.").format(holder=holder))


def _form(
    request: Request, site: Site, form: ServiceForm, title: str, button: str, **more: Any
) -> HttpResponse:
    facts = {"site": site, "form": form, "title": title, "button": button, **more}
    return render(request, "desk/form.html", facts, status=UNPROCESSABLE if form.errors else 200)


def _told(request: Request, site: Site, words: str) -> HttpResponse:
    messages.success(request, words)
    return redirect("desk:reminders", site.pk)
