"""Handing in what a tablet exported, and deciding on what a withdrawn tablet told."""

from http import HTTPStatus
from typing import Any

from django.contrib import messages
from django.core.paginator import Paginator
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from keyctl.accounts.http import Request
from keyctl.field import access, services
from keyctl.field.forms import HandInForm
from keyctl.field.models import FieldEvent, Via
from keyctl.field.parsing import told_sequence
from keyctl.field.selectors.quarantine import chosen_of, in_words, waiting_for
from keyctl.field.views.api import MOST_BYTES, read_envelopes, read_told, told_answers
from keyctl.field.views.problems import Problem
from keyctl.lib.errors import Refused
from keyctl.lib.http import UNPROCESSABLE
from keyctl.lib.identifiers import read_uuid

EVENTS_ON_A_PAGE = 50


@require_http_methods(["GET", "POST"])
def hand_in(request: Request) -> HttpResponse:
    access.require_locksmith(request.user)
    if request.method == "GET":
        return render(request, "field/hand_in.html", {"form": HandInForm()})
    form = HandInForm(request.POST, request.FILES)
    answers = _taken(request, form)
    facts = {"form": form, "answers": answers}
    status = UNPROCESSABLE if answers is None else HTTPStatus.OK
    return render(request, "field/hand_in.html", facts, status=status)


def _taken(request: Request, form: HandInForm) -> list[dict[str, Any]] | None:
    if not form.is_valid():
        return None
    file = form.cleaned_data["file"]
    if file.size > MOST_BYTES:
        form.add_error(
            "file",
            _("The file has {size} bytes; at most {most_bytes} are taken.").format(
                size=file.size, most_bytes=MOST_BYTES
            ),
        )
        return None
    try:
        envelopes = read_envelopes(read_told(file.read()))
    except Problem as fault:
        form.add_error("file", fault.detail)
        return None
    rows = []
    for envelope in envelopes:
        answers = services.take_batch(
            actor=request.user,
            device=access.sending_device(request.user, envelope.device),
            sent_at=None,
            events=envelope.events,
            via=Via.FILE,
        )
        told = told_answers(request, answers)
        rows += [row | _named(raw) for row, raw in zip(told, envelope.events, strict=True)]
    return rows


def _named(raw: Any) -> dict[str, str]:
    """What somebody who compares the list with the tablet knows it by."""
    members = raw if isinstance(raw, dict) else {}
    label = dict(FieldEvent.Kind.choices).get(str(members.get("kind")), _("Unknown"))
    number = told_sequence(raw)
    return {"label": str(label), "number": str(number) if number else "–"}


@require_GET
def quarantine(request: Request) -> HttpResponse:
    access.require_locksmith(request.user)
    pages = Paginator(waiting_for(request.user), EVENTS_ON_A_PAGE)
    page = pages.get_page(request.GET.get("page"))
    return render(request, "field/quarantine.html", {"page": page, "rows": in_words(list(page))})


@require_POST
def take_in(request: Request) -> HttpResponse:
    done = services.take_in(actor=request.user, events=_chosen(request))
    doubtful = sum(event.case is not None for event in done)
    words = f" {doubtful} of them contradict the register and stand in cases." if doubtful else ""
    messages.success(request, _("Taken in: {done}.{words}").format(done=len(done), words=words))
    return redirect("field:quarantine")


@require_POST
def set_aside(request: Request) -> HttpResponse:
    reason = request.POST.get("reason", "")
    done = services.set_aside(actor=request.user, events=_chosen(request), reason=reason)
    messages.success(request, _("Set aside: {done}.").format(done=len(done)))
    return redirect("field:quarantine")


def _chosen(request: Request) -> list[Any]:
    access.require_locksmith(request.user)
    chosen = chosen_of(request.user, [read_uuid(text) for text in request.POST.getlist("event")])
    if not chosen:
        raise Refused(_("Choose what you decide on, one event at least."))
    return chosen
