"""Silence approves nothing: after its hours a decision is brought before those next in line."""

from collections.abc import Iterator
from datetime import datetime
from uuid import UUID

from django.db import transaction
from django.utils.translation import gettext_lazy, gettext_noop

from keyctl.approvals.deciders import current_steps
from keyctl.approvals.models import KeyRequest, Step
from keyctl.approvals.roll import deciders, roll_of
from keyctl.approvals.services.locking import tell
from keyctl.approvals.services.stepping import next_in_line, wait_on
from keyctl.approvals.services.telling import tell_administrators, tell_deciders
from keyctl.lib.language import in_english
from keyctl.lib.retold import kept_text

Told = Step.Told
BATCH = 100
DONE = {
    Told.REMINDED: gettext_lazy("reminded those whose decision a request waits for"),
    Told.OFFICER: gettext_lazy(
        "asked the security officers in place of those whose decision a request waits for"
    ),
    Told.ADMINISTRATOR: gettext_lazy("told the administrators of those whose decision a request waits for"),
}
ESCALATED = kept_text(gettext_noop("Decisions brought before others: {moved}, waiting: {count}."))


def escalate_silent_steps(now: datetime) -> str:
    """The routine: a transaction for each step, so that nobody who decides waits for it."""
    moved = sum(_escalate(pk, now) for pk in _silent(now))
    return ESCALATED.format(moved=moved, count=current_steps().count())


def _silent(now: datetime) -> Iterator[UUID]:
    """Steps whose hours are over, and those that nobody may decide any more (people leave, roles end)."""
    waiting = current_steps().exclude(told=Told.ADMINISTRATOR).order_by("due_at", "pk")
    keys = list(waiting.values_list("pk", flat=True))
    for at in range(0, len(keys), BATCH):
        steps = list(_read(keys[at : at + BATCH]))
        roll = roll_of(steps) if steps else None
        for step in steps:
            if (step.due_at and step.due_at <= now) or not deciders(step, roll):
                yield step.pk


def _read(keys: list[UUID]) -> list[Step]:
    steps = current_steps().filter(pk__in=keys).select_related("request__building__site")
    return list(steps.prefetch_related("people", "request__steps").order_by("due_at", "pk"))


@transaction.atomic
def _escalate(pk: UUID, now: datetime) -> bool:
    """False where somebody decided or withdrew meanwhile, or another worker was first."""
    seen = Step.objects.get(pk=pk)
    KeyRequest.objects.select_for_update().get(pk=seen.request_id)
    step = next(iter(_read([pk])), None)
    if step is None or step.told != seen.told:
        return False
    if step.due_at and step.due_at > now and deciders(step):
        return False
    step.told = next_in_line(step)
    step.escalated_at = now
    wait_on(step, now)
    step.save(update_fields=["told", "escalated_at", "due_at"])
    if step.told == Told.ADMINISTRATOR:
        tell_administrators(step)
    else:
        tell_deciders(step, again=True)
    said = in_english(lambda: f"{DONE[Told(step.told)]}: {step.label.lower()}")
    tell(None, step.request, "request.escalated", said)
    return True
