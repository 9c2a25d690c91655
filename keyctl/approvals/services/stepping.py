"""From one decision to the next: steps are written down, take their turn, and tell those whose turn it is."""

from collections.abc import Sequence
from datetime import datetime, timedelta

from django.utils import timezone

from keyctl.accounts.models import User
from keyctl.approvals.chain import Needed
from keyctl.approvals.models import Deciders, KeyRequest, Step
from keyctl.approvals.roll import deciders
from keyctl.approvals.ruling import first_of
from keyctl.approvals.services.telling import tell_administrators, tell_deciders

Told = Step.Told
# Whom silence reaches next. Officers do not wait for officers.
LINE: tuple[Told, ...] = (Told.ASKED, Told.REMINDED, Told.OFFICER, Told.ADMINISTRATOR)


def open_first_step(request: KeyRequest) -> Step:
    """Called in the transaction that asks."""
    (step,) = _written(request, [first_of(request)], after=0)
    return take_turn(step)


def add_steps(request: KeyRequest, needed: Sequence[Needed]) -> list[Step]:
    """The decisions that the chosen keys need, after those there are; the first of them not yet begun."""
    return _written(request, needed, after=request.steps.count())


def next_step(request: KeyRequest) -> Step | None:
    """Begin the next decision; None where there is none left."""
    step = request.steps.filter(state=Step.State.WAITING, since__isnull=True).order_by("ordinal").first()
    return take_turn(step) if step else None


def current_step(request: KeyRequest) -> Step | None:
    steps = request.steps.select_related("request__building__site").prefetch_related("people")
    return steps.filter(state=Step.State.WAITING, since__isnull=False).first()


def take_turn(step: Step) -> Step:
    """It waits from now on. Where nobody may decide it, those next in line are asked at once."""
    step.since = timezone.now()
    step.told = Told.ASKED
    while not deciders(step) and step.told != Told.ADMINISTRATOR:
        step.told = next_in_line(step)
    wait_on(step, step.since)
    step.save(update_fields=["since", "due_at", "told"])
    tell_deciders(step)
    if step.told == Told.ADMINISTRATOR:
        tell_administrators(step)
    return step


def next_in_line(step: Step) -> Told:
    """After whom silence has reached so far."""
    later = list(LINE[LINE.index(Told(step.told)) + 1 :])
    if step.who == Deciders.OFFICER and Told.OFFICER in later:
        later.remove(Told.OFFICER)
    return later[0] if later else Told.ADMINISTRATOR


def wait_on(step: Step, since: datetime) -> None:
    step.due_at = since + timedelta(hours=step.silent_hours)


def _written(request: KeyRequest, needed: Sequence[Needed], *, after: int) -> list[Step]:
    steps = []
    for place, each in enumerate(needed, start=after + 1):
        step = Step.objects.create(
            request=request,
            ordinal=place,
            who=each.who,
            label=str(each.label),
            why=_fitting(" ".join(each.why)),
            is_apart=each.is_apart,
            silent_hours=each.silent_hours,
            asked_by=request.requester,
            asked_for=request.holder_user,
        )
        step.people.set(User.objects.filter(pk__in=each.people))
        steps.append(step)
    return steps


def _fitting(text: str) -> str:
    return text if len(text) <= 400 else f"{text[:399]}…"
