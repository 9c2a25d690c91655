"""The page of one case: what it shows to whom, and how an act on it ends."""

from collections.abc import Callable
from typing import Any

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render

from keyctl.accounts.http import Request
from keyctl.audit.selectors import history_of
from keyctl.lib.forms import ServiceForm, VersionForm
from keyctl.lib.http import UNPROCESSABLE
from keyctl.losses import access, selectors
from keyctl.losses.figures import Figures
from keyctl.losses.forms import CancelForm, CloseForm, JoinForm, NoteForm, ReopenForm
from keyctl.losses.models import LossCase
from keyctl.losses.services.looking import running_look

EVENTS_SHOWN = 60
BUILDINGS_SHOWN = 40

FORM_NAMES: dict[type[ServiceForm], str] = {
    CloseForm: "close_form",
    CancelForm: "cancel_form",
    ReopenForm: "reopen_form",
    JoinForm: "join_form",
    NoteForm: "note_form",
    VersionForm: "version_form",
}


def act(
    request: Request,
    case: LossCase,
    form: ServiceForm,
    service: Callable[..., Any],
    done: str,
) -> HttpResponse:
    """Back to the case with a word of success, or the case again with what was refused."""
    if form.attempt(service, actor=request.user, case=case) is None:
        return show_case(request, case, form)
    messages.success(request, done)
    return redirect("losses:detail", case.pk)


def show_case(request: Request, case: LossCase, form: ServiceForm | None = None) -> HttpResponse:
    # After a refusal the page shows the case as it is now, which may be why it was refused.
    case = access.readable_case(request.user, case.pk)
    facts = _facts(request, case) | {"form": form}
    if form is not None:
        facts[FORM_NAMES[type(form)]] = form
    status = UNPROCESSABLE if form is not None and form.errors else 200
    return render(request, "losses/detail.html", facts, status=status)


def _facts(request: Request, case: LossCase) -> dict[str, Any]:
    actor = request.user
    buildings = selectors.buildings_of(actor, case)
    return {
        "case": case,
        "figures": Figures.of(case),
        "lost": selectors.lost_copies(case),
        "all_found": not case.lost_copies.filter(found_at__isnull=True).exists(),
        "buildings": buildings[:BUILDINGS_SHOWN],
        "buildings_more": max(len(buildings) - BUILDINGS_SHOWN, 0),
        "now": selectors.exposed_now(case) if case.is_unfinished else None,
        "elsewhere": selectors.elsewhere(actor, case),
        "look_job": running_look(case),
        "steps": selectors.steps_of(case),
        "plan": case.plans.filter(chosen_at__isnull=False).first(),
        "work": selectors.work_of(case),
        "proof": selectors.proof_state(case),
        "proof_job": selectors.running_proof(case),
        "notes": case.notes.select_related("by", "holder"),
        "events": history_of(case)[:EVENTS_SHOWN],
        **_rights(request, case),
        **_forms(case),
    }


def _rights(request: Request, case: LossCase) -> dict[str, bool]:
    actor = request.user
    return {
        "decides": access.has_role_in(actor, case, *access.DECIDERS),
        "proves": access.has_role_in(actor, case, *access.PROVERS),
        "writes": access.has_role_in(actor, case, *access.NOTERS),
        "looks": access.has_role_in(actor, case, *access.READERS),
        "is_opener": case.opened_by_id == actor.pk,
    }


def _forms(case: LossCase) -> dict[str, ServiceForm]:
    join = JoinForm(seen=case)
    return {
        "close_form": CloseForm(seen=case),
        "cancel_form": CancelForm(seen=case),
        "reopen_form": ReopenForm(seen=case),
        "join_form": join,
        "note_form": NoteForm(),
    }
