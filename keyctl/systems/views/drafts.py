"""Designing a key system: a draft is worked out, looked at, changed, thrown away, or its keys are made."""

from functools import partial
from uuid import UUID

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from keyctl import engine
from keyctl.accounts.http import Request
from keyctl.jobs.models import Job
from keyctl.lib.http import UNPROCESSABLE
from keyctl.lib.language import in_sentence
from keyctl.places.access import require_some
from keyctl.places.selectors import visible_history
from keyctl.systems.access import design_sites, readable_draft
from keyctl.systems.drafts import levels_of, method_of
from keyctl.systems.forms import RULES, DraftForm
from keyctl.systems.models import SystemDraft
from keyctl.systems.services import discard_draft, make_keys, work_out

EVENTS_SHOWN = 20


@require_http_methods(["GET", "POST"])
def new(request: Request) -> HttpResponse:
    require_some(design_sites(request.user))
    return _form_page(request, None)


@require_http_methods(["GET", "POST"])
def change(request: Request, pk: UUID) -> HttpResponse:
    return _form_page(request, readable_draft(request.user, pk))


@require_GET
def draft(request: Request, pk: UUID) -> HttpResponse:
    found = readable_draft(request.user, pk)
    context = {
        "draft": found,
        "format": engine.load_format(found.format_id),
        "sites": found.sites.order_by("code"),
        "method": method_of(found),
        "levels": levels_of(found),
        "rules": [f"{in_sentence(RULES[name][0])} {value}" for name, value in found.facts["rules"].items()],
        "job": Job.objects.filter(pk=found.facts.get("job")).first(),
        "events": visible_history(request.user, found)[:EVENTS_SHOWN],
    }
    return render(request, "systems/draft.html", context)


@require_POST
def discard(request: Request, pk: UUID) -> HttpResponse:
    found = readable_draft(request.user, pk)
    discard_draft(actor=request.user, draft=found)
    messages.success(
        request, _("The draft {code} is thrown away, with what was drawn for it.").format(code=found.code)
    )
    return redirect("systems:list")


@require_POST
def make(request: Request, pk: UUID) -> HttpResponse:
    job = make_keys(actor=request.user, draft=readable_draft(request.user, pk))
    return redirect("jobs:detail", job.pk)


def _form_page(request: Request, draft: SystemDraft | None) -> HttpResponse:
    form = DraftForm(request.POST or None, actor=request.user, draft=draft)
    if request.method == "POST" and (
        made := form.attempt(partial(work_out, draft=draft), actor=request.user)
    ):
        messages.success(request, _("{code} is worked out. No key is made yet.").format(code=made.code))
        return redirect("systems:draft", made.pk)
    context = {"form": form, "draft": draft}
    return render(request, "systems/draft_form.html", context, status=UNPROCESSABLE if form.is_bound else 200)
