"""How far requests have come, and whom each waits for."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from django.db.models import Prefetch, QuerySet
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy, ngettext

from keyctl.approvals.custom import names_deciders
from keyctl.approvals.models import KeyRequest, Step
from keyctl.approvals.roll import Roll, deciders, roll_of
from keyctl.lib.language import in_sentence
from keyctl.lib.stages import Stage, stages_at

State = KeyRequest.State
MOST_NAMED = 4
NOBODY = gettext_lazy("somebody who has yet to be named")
# After the last decision; each is done when the state that follows it is reached.
LATER = (gettext_lazy("Made ready"), gettext_lazy("Collected at the desk"))
REACHED = {State.APPROVED: 0, State.READY: 1, State.HANDED_OUT: 2}


@dataclass(frozen=True)
class Row:
    request: KeyRequest
    waits_for: str
    step: Step | None


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
        return _("the key desk")
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
        left = len(names) - MOST_NAMED + 1
        others = ngettext("{count} other", "{count} others", left).format(count=left)
        names = [*names[: MOST_NAMED - 1], others]
    return _(" or ").join(names) or str(NOBODY)


def stages(request: KeyRequest) -> list[Stage]:
    """The whole way of a request, from the question to the key; a step that was refused ends it."""
    ended = request.state in {State.REFUSED, State.WITHDRAWN, State.LAPSED}
    found = [Stage(_("Asked"), True, False), *_decisions(request.steps.all(), ended)]
    if ended:
        return [*found, Stage(State(request.state).label, False, True)]
    reached = REACHED.get(State(request.state), -1)
    return found + stages_at(LATER, reached)


def _decisions(steps: Iterable[Step], ended: bool) -> list[Stage]:
    shown = [step for step in steps if not ended or step.state == Step.State.APPROVED]
    return [
        Stage(
            _("Decided by: {label}").format(label=in_sentence(step.label)),
            step.state == Step.State.APPROVED,
            step.is_current,
        )
        for step in shown
    ]
