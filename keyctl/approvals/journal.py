"""What happened to a request, and what it waits for: the lines of the page that its asker looks at."""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime

from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from keyctl.approvals.custom import collect_until, settings_of
from keyctl.approvals.models import Grant, KeyRequest, RequestSettings, Step
from keyctl.approvals.progress import named
from keyctl.approvals.roll import deciders
from keyctl.lib.days import day, day_or_moment

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
    lines = [Line(_("Asked"), "good", _("Done"), str(request.requester), request.asked_at)]
    lines += [_of_step(step, request, shows_names) for step in request.steps.select_related("decided_by")]
    if request.state in ENDED:
        return [*lines, _of_end(request)]
    return lines + list(_of_keys(request, settings))


def _of_step(step: Step, request: KeyRequest, shows_names: bool) -> Line:
    what = _("Decision: {label}").format(label=step.label)
    if step.decided_by:
        is_good = step.state == Step.State.APPROVED
        who = str(step.decided_by) if shows_names else step.label
        tone = "good" if is_good else "bad"
        return Line(what, tone, step.get_state_display(), who, step.decided_at, step.note)
    if request.state != State.ASKED:
        return Line(what, "plain", _("Not needed any more"))
    if not step.is_current:
        return Line(what, "plain", _("Not yet its turn"))
    who = named([str(each) for each in deciders(step)]) if shows_names else step.label
    until = (
        _("An answer is expected by {said}.").format(said=day_or_moment(step.due_at)) if step.due_at else ""
    )
    return Line(what, "wait", _("Waiting"), who, step.since, until)


def _of_end(request: KeyRequest) -> Line:
    words = {
        State.WITHDRAWN: request.decision_note if request.decided_by is None else "",
        State.LAPSED: _("The keys went back into stock. Speak to the key desk, or ask anew."),
    }
    return Line(_("Ended"), "bad", request.get_state_display(), words=words.get(State(request.state), ""))


def _of_keys(request: KeyRequest, settings: RequestSettings) -> Iterator[Line]:
    grants = list(request.grants.select_related("copy", "handed_out_by", "order_line"))
    if request.state == State.ASKED:
        yield Line(_("Keys made ready"), "plain", _("Later"))
        yield Line(_("Keys collected"), "plain", _("Later"))
        return
    waiting = [grant for grant in grants if grant.copy_id is None]
    yield _of_making(request, len(grants), waiting)
    yield _of_collecting(request, settings, grants, waiting)


def _of_making(request: KeyRequest, number: int, waiting: list[Grant]) -> Line:
    lacking = [grant for grant in waiting if grant.reserved_copy_id is None]
    if not lacking:
        return Line(_("Keys made ready"), "good", _("Done"), _("Key desk"), request.ready_at)
    cut = sum(bool(grant.order_line and grant.order_line.is_open) for grant in lacking)
    words = ngettext(
        "{ready} of {count} key is ready. Being cut: {cut}.",
        "{ready} of {count} keys are ready. Being cut: {cut}.",
        number,
    )
    return Line(
        _("Keys made ready"),
        "wait",
        _("Waiting"),
        _("Key desk"),
        words=words.format(ready=number - len(lacking), count=number, cut=cut),
    )


def _of_collecting(
    request: KeyRequest, settings: RequestSettings, grants: list[Grant], waiting: list[Grant]
) -> Line:
    gone = len(grants) - len(waiting)
    due = _("Due back on {day}.").format(day=day(request.needed_until)) if request.needed_until else ""
    if not waiting:
        by = next((str(grant.handed_out_by) for grant in grants if grant.handed_out_by), "")
        return Line(_("Keys collected"), "good", _("Done"), by, words=due)
    until = collect_until(request, settings)
    parts = [
        _("{gone} of {all} collected.").format(gone=gone, all=len(grants)) if gone else "",
        settings.collect_at,
    ]
    if request.state == State.READY:
        begins = _("From {day} on.").format(day=day(request.starts_on)) if request.starts_on else ""
        parts += [
            begins,
            _("They lie there until {said}.").format(said=day_or_moment(until)) if until else "",
            due,
        ]
        tone, state = "wait", _("Ready to collect")
    else:
        tone, state = "plain", _("Later")
    return Line(_("Keys collected"), tone, state, str(request.holder), words=" ".join(p for p in parts if p))
