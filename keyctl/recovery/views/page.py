"""The page of one case: what it shows to whom, and how an act on it ends."""

from collections.abc import Callable
from typing import Any

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render

from keyctl import engine
from keyctl.accounts.http import Request
from keyctl.audit.selectors import history_of
from keyctl.lib.forms import VersionForm
from keyctl.lib.http import UNPROCESSABLE
from keyctl.places.access import has_role
from keyctl.recovery import access, selectors
from keyctl.recovery.forms import CancelForm, ChooseCoreForm, ChooseKeyForm, CloseForm, CutForm
from keyctl.recovery.models import ControlKeyCase


def act(
    request: Request,
    case: ControlKeyCase,
    form: VersionForm,
    service: Callable[..., Any],
    done: str,
    **facts: Any,
) -> HttpResponse:
    """Back to the case with a word of success, or the case again with what was refused."""
    if form.attempt(service, actor=request.user, **(facts or {"case": case})) is None:
        return show_case(request, case, form)
    messages.success(request, done)
    return redirect("recovery:detail", case.pk)


def show_case(request: Request, case: ControlKeyCase, form: VersionForm | None = None) -> HttpResponse:
    # After a refusal the page shows the case as it is now, which may be why it was refused.
    case = access.readable_case(request.user, case.pk)
    facts = _facts(request, case) | {"form": form}
    if form is not None:
        facts[FORM_NAMES[type(form)]] = form
    status = UNPROCESSABLE if form is not None and form.errors else 200
    return render(request, "recovery/detail.html", facts, status=status)


FORM_NAMES: dict[type[VersionForm], str] = {
    ChooseCoreForm: "core_form",
    ChooseKeyForm: "key_form",
    CutForm: "cut_form",
    CloseForm: "close_form",
    CancelForm: "cancel_form",
    VersionForm: "version_form",
}


def _facts(request: Request, case: ControlKeyCase) -> dict[str, Any]:
    works = has_role(request.user, case.site, *access.WORKERS) and case.is_open
    approval = selectors.open_approval(case)
    return {
        "case": case,
        "format": engine.load_format(case.system.format_id),
        "steps": selectors.steps_of(case),
        "reach": selectors.reach_of(case),
        "readings": selectors.all_readings(case),
        "standing": selectors.standing_readings(case).count(),
        "approval": approval,
        "is_recovered": selectors.was_recovered(case),
        "can_close": selectors.can_close(case),
        "waits_for_approval": selectors.is_ready_to_approve(case) and not approval,
        "blank": selectors.blanks_for(case),
        "cuts": case.blanks.select_related("by", "symbol"),
        "keys": selectors.few_keys(case.core),
        "works": works,
        "approves": has_role(request.user, case.site, *access.APPROVERS) and case.is_open,
        "events": history_of(case),
        **(_forms(case) if works else {}),
    }


def _forms(case: ControlKeyCase) -> dict[str, Any]:
    return {
        "core_form": ChooseCoreForm(seen=case),
        "key_form": ChooseKeyForm(seen=case),
        "cut_form": CutForm(seen=case),
        "close_form": CloseForm(seen=case),
        "cancel_form": CancelForm(seen=case),
        "at_hand": selectors.cores_at_hand(case),
    }
