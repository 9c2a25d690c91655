"""One request, as its reader may see it."""

from typing import Any
from uuid import UUID

from django.http import HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_GET

from keyctl.accounts.http import Request
from keyctl.approvals import access, selectors
from keyctl.approvals.counter import is_stuck
from keyctl.approvals.custom import names_deciders
from keyctl.approvals.deciders import steps_of
from keyctl.approvals.journal import journal_of
from keyctl.approvals.models import KeyRequest
from keyctl.approvals.previewing import named_ways, preview_of
from keyctl.approvals.rights import decides, why_not
from keyctl.audit.selectors import history_of
from keyctl.keys.access import reads_keys
from keyctl.lib.forms import ServiceForm
from keyctl.lib.http import UNPROCESSABLE

State = KeyRequest.State
WORK_OUT = "proposals"


@require_GET
def detail(request: Request, pk: UUID) -> HttpResponse:
    """With ``?proposals`` what is proposed is worked out, however long that takes; HTMX puts it in place."""
    found = access.readable_request(request.user, pk)
    if request.htmx and WORK_OUT in request.GET and access.sees_keys(request.user, found):
        facts = {"key_request": found, **_decision_facts(request, found, waits=True)}
        return render(request, "approvals/_decide.html", facts)
    return detail_page(request, found)


def detail_page(request: Request, found: KeyRequest, form: ServiceForm | None = None) -> HttpResponse:
    # After a refusal the page shows the request as it is now, which may be why it was refused.
    found = access.readable_request(request.user, found.pk)
    sees_keys = access.sees_keys(request.user, found)
    facts: dict[str, Any] = {
        "key_request": found,
        "doors": found.doors.with_places(),
        "stages": selectors.stages(found),
        "waits_for": selectors.waits_for(found),
        "form": form,
        "can_withdraw": found.requester_id == request.user.pk and selectors.can_be_withdrawn(found),
        "journal": journal_of(found, names_all=sees_keys),
        "names_deciders": sees_keys or names_deciders(found),
        **(_staff_facts(request, found) if sees_keys else {}),
    }
    return render(request, "approvals/detail.html", facts, status=status(form))


def _staff_facts(request: Request, found: KeyRequest) -> dict[str, Any]:
    """Keys are named to those who decide, hand out or watch; not to who asks."""
    lines = selectors.grant_lines(found)
    facts: dict[str, Any] = {
        "sees_keys": True,
        "reads_holders": reads_keys(request.user, found.building.site),
        "events": history_of(found),
        "works_the_desk": access.works_the_desk(request.user, found),
        "grant_lines": lines,
        "some_ready": any(line.grant.reserved_copy_id for line in lines),
        "can_look_again": found.state == State.LAPSED or any(is_stuck(line.grant) for line in lines),
        "decisions": found.steps.select_related("decided_by", "for_person"),
    }
    if found.state == State.ASKED:
        facts |= _decision_facts(request, found, waits=request.method == "POST" or WORK_OUT in request.GET)
    return facts


def _decision_facts(request: Request, found: KeyRequest, *, waits: bool) -> dict[str, Any]:
    """What the current step decides about: proposals to choose from, or the keys that were chosen.

    Where choosing may take long and the page does not wait for it, there is a preview in its place.
    """
    step, chosen = selectors.current_of(found), selectors.as_chosen(found)
    if not chosen and not waits:
        preview = preview_of(found.doors.values_list("pk", flat=True), found.building.site)
        if not preview.is_quick:
            return {"step": step, "preview": preview, "rough": named_ways(preview)}
    proposals = [chosen] if chosen else selectors.proposals_for(found)
    may_decide = step is not None and decides(request.user, step)
    return {
        "step": step,
        "chosen": chosen,
        "effects": selectors.effects(request.user, found, proposals),
        "closed_doors": selectors.doors_without_opener(found),
        "decides": may_decide,
        "why_not": "" if may_decide or step is None else why_not(request.user, step),
        # Who only watches need not be told why they do not decide.
        "concerns": steps_of(request.user).filter(request=found).exists(),
        "rules": selectors.rules_mark(found.building.site),
    }


def status(form: ServiceForm | None) -> int:
    return UNPROCESSABLE if form is not None and form.errors else 200
