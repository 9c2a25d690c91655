"""What happened to a request, and what it waits for: the lines of the page that its asker looks at."""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime

from keyctl.approvals.custom import collect_until, settings_of
from keyctl.approvals.models import Grant, KeyRequest, RequestSettings, Step
from keyctl.approvals.progress import named
from keyctl.approvals.roll import deciders
from keyctl.lib.moments import said

State = KeyRequest.State
ENDED = (State.REFUSED, State.WITHDRAWN, State.LAPSED)


@dataclass(frozen=True)
class Line:
    """``tone`` is that of a tag: good where it is done, wait where it is its turn, bad where it ended."""

    what: str
    tone: str
    state: str
    who: str = ""
    at: datetime | None = None
    words: str = ""


def journal_of(request: KeyRequest, *, names_all: bool) -> list[Line]:
    """``names_all``: the reader may know who decided whatever the site says about that."""
    settings = settings_of(request.building.site)
    shows_names = names_all or settings.names_deciders
    lines = [Line("Asked", "good", "Done", str(request.requester), request.asked_at)]
    lines += [_of_step(step, request, shows_names) for step in request.steps.select_related("decided_by")]
    if request.state in ENDED:
        return [*lines, _of_end(request)]
    return lines + list(_of_keys(request, settings))


def _of_step(step: Step, request: KeyRequest, shows_names: bool) -> Line:
    what = f"Decision: {step.label}"
    if step.decided_by:
        is_good = step.state == Step.State.APPROVED
        who = str(step.decided_by) if shows_names else step.label
        tone = "good" if is_good else "bad"
        return Line(what, tone, step.get_state_display(), who, step.decided_at, step.note)
    if request.state != State.ASKED:
        return Line(what, "plain", "Not needed any more")
    if not step.is_current:
        return Line(what, "plain", "Not yet its turn")
    who = named([str(each) for each in deciders(step)]) if shows_names else step.label
    until = f"An answer is expected by {said(step.due_at)}." if step.due_at else ""
    return Line(what, "wait", "Waiting", who, step.since, until)


def _of_end(request: KeyRequest) -> Line:
    words = {
        State.WITHDRAWN: request.decision_note if request.decided_by is None else "",
        State.LAPSED: "The keys went back into stock. Speak to the key desk, or ask anew.",
    }
    return Line("Ended", "bad", request.get_state_display(), words=words.get(State(request.state), ""))


def _of_keys(request: KeyRequest, settings: RequestSettings) -> Iterator[Line]:
    grants = list(request.grants.select_related("copy", "handed_out_by", "order_line"))
    if request.state == State.ASKED:
        yield Line("Keys made ready", "plain", "Later")
        yield Line("Keys collected", "plain", "Later")
        return
    waiting = [grant for grant in grants if grant.copy_id is None]
    yield _of_making(request, len(grants), waiting)
    yield _of_collecting(request, settings, grants, waiting)


def _of_making(request: KeyRequest, number: int, waiting: list[Grant]) -> Line:
    lacking = [grant for grant in waiting if grant.reserved_copy_id is None]
    if not lacking:
        return Line("Keys made ready", "good", "Done", "Key desk", request.ready_at)
    cut = sum(bool(grant.order_line and grant.order_line.is_open) for grant in lacking)
    words = f"{number - len(lacking)} of {number} {'key is' if number == 1 else 'keys are'} ready."
    return Line("Keys made ready", "wait", "Waiting", "Key desk", words=f"{words} Being cut: {cut}.")


def _of_collecting(
    request: KeyRequest, settings: RequestSettings, grants: list[Grant], waiting: list[Grant]
) -> Line:
    gone = len(grants) - len(waiting)
    due = f"Due back on {request.needed_until:%-d %b %Y}." if request.needed_until else ""
    if not waiting:
        by = next((str(grant.handed_out_by) for grant in grants if grant.handed_out_by), "")
        return Line("Keys collected", "good", "Done", by, words=due)
    until = collect_until(request, settings)
    parts = [f"{gone} of {len(grants)} collected." if gone else "", settings.collect_at]
    if request.state == State.READY:
        begins = f"From {request.starts_on:%-d %b %Y} on." if request.starts_on else ""
        parts += [begins, f"They lie there until {said(until)}." if until else "", due]
        tone, state = "wait", "Ready to collect"
    else:
        tone, state = "plain", "Later"
    return Line("Keys collected", tone, state, str(request.holder), words=" ".join(p for p in parts if p))
