"""How far requests have come, and whom each waits for."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from django.db.models import Prefetch, QuerySet

from keyctl.approvals.custom import names_deciders
from keyctl.approvals.models import KeyRequest, Step
from keyctl.approvals.roll import Roll, deciders, roll_of

State = KeyRequest.State
MOST_NAMED = 4
NOBODY = "somebody who has yet to be named"
# After the last decision; each is done when the state that follows it is reached.
LATER = ("Made ready", "Collected at the desk")
REACHED = {State.APPROVED: 0, State.READY: 1, State.HANDED_OUT: 2}


@dataclass(frozen=True)
class Row:
    request: KeyRequest
    waits_for: str
    step: Step | None


@dataclass(frozen=True)
class Stage:
    label: str
    is_done: bool
    is_current: bool


def with_names(requests: QuerySet[KeyRequest]) -> QuerySet[KeyRequest]:
    steps = Step.objects.order_by("ordinal").prefetch_related("people")
    return requests.select_related(
        "building__site__request_settings", "holder", "requester", "decided_by"
    ).prefetch_related(Prefetch("steps", queryset=steps), "doors")


def rows(requests: Sequence[KeyRequest]) -> list[Row]:
    """A handful of queries, however many requests; they come from ``with_names``."""
    current = {request.pk: step for request in requests if (step := current_of(request))}
    roll = roll_of(list(current.values())) if current else None
    found = []
    for request in requests:
        step = current.get(request.pk)
        found.append(Row(request, waits_for(request, step, roll), step))
    return found


def current_of(request: KeyRequest) -> Step | None:
    if request.state != State.ASKED:
        return None
    return next((step for step in request.steps.all() if step.is_current), None)


def waits_for(request: KeyRequest, step: Step | None = None, roll: Roll | None = None) -> str:
    if request.state == State.APPROVED:
        return "the key desk"
    if request.state == State.READY:
        return str(request.holder)
    step = step or current_of(request)
    if step is None:
        return ""
    if not names_deciders(request):
        return step.label
    return named([str(each) for each in deciders(step, roll)])


def named(names: Sequence[str]) -> str:
    if len(names) > MOST_NAMED:
        names = [*names[: MOST_NAMED - 1], f"{len(names) - MOST_NAMED + 1} others"]
    return " or ".join(names) or NOBODY


def stages(request: KeyRequest) -> list[Stage]:
    """The whole way of a request, from the question to the key; a step that was refused ends it."""
    ended = request.state in {State.REFUSED, State.WITHDRAWN, State.LAPSED}
    found = [Stage("Asked", True, False), *_decisions(request.steps.all(), ended)]
    if ended:
        return [*found, Stage(State(request.state).label, False, True)]
    reached = REACHED.get(State(request.state), -1)
    return found + [Stage(label, place < reached, place == reached) for place, label in enumerate(LATER)]


def _decisions(steps: Iterable[Step], ended: bool) -> list[Stage]:
    shown = [step for step in steps if not ended or step.state == Step.State.APPROVED]
    return [
        Stage(f"Decided by: {step.label.lower()}", step.state == Step.State.APPROVED, step.is_current)
        for step in shown
    ]
