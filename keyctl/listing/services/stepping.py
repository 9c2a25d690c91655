"""An act from step to step: tried, done, undone. Short ones at once, long ones in the queue, by batches."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any

from django.core.exceptions import PermissionDenied
from django.db import transaction
from django.db.models import Count
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import gettext_noop

from keyctl.accounts.models import User
from keyctl.audit.services import record
from keyctl.lib.errors import Conflict, Refused
from keyctl.lib.retold import kept_text
from keyctl.listing import later
from keyctl.listing.access import declared
from keyctl.listing.models import UNDO_FOR, BulkAct, BulkRow
from keyctl.listing.services.rows import Hand

State = BulkAct.State
Row = BulkRow.State
# Nobody else waits long for the database while a batch is written.
BATCH = 25
# Above that the page does not wait.
MOST_AT_ONCE = 100
DROPPED_AFTER = timedelta(days=1)
KEPT_FOR = timedelta(days=90)
KEPT_FIELDS = ("state", "reason", "before", "after", "words", "seen", "left", "event", "site_id")
Teller = Callable[[int, int], None]
FORGOTTEN = kept_text(gettext_noop("Acts on many rows forgotten: {count}."))


@dataclass(frozen=True)
class Step:
    """Rows in the one state are worked on until there are none; then the act is in the other."""

    rows: Row
    work: Callable[..., None]
    ends: State


STEPS = {
    State.TRYING: Step(Row.CHOSEN, Hand.try_row, State.TRIED),
    State.DOING: Step(Row.WOULD, Hand.do_row, State.DONE),
    State.UNDOING: Step(Row.DONE, Hand.undo_row, State.UNDONE),
}


def try_act(*, actor: User, bulk: BulkAct, facts: Mapping[str, str]) -> BulkAct:
    """Again where other facts are said: what was found before is forgotten."""
    with transaction.atomic():
        bulk = _held(actor, bulk, State.CHOSEN, State.TRIED)
        _refuse_words(bulk, facts)
        bulk.rows.update(
            state=Row.CHOSEN, reason="", before={}, after={}, words={}, seen="", left="", event=None
        )
        bulk.facts, bulk.state = dict(facts), State.TRYING
        bulk.save(update_fields=["facts", "state"])
        return _go(actor, bulk)


def do_act(*, actor: User, bulk: BulkAct) -> BulkAct:
    with transaction.atomic():
        bulk = _held(actor, bulk, State.TRIED)
        if not bulk.rows.filter(state=Row.WOULD).exists():
            raise Refused(_("No row would change. Say something else, or choose other rows."))
        bulk.state = State.DOING
        bulk.save(update_fields=["state"])
        return _go(actor, bulk)


def undo_act(*, actor: User, bulk: BulkAct, now: datetime | None = None) -> BulkAct:
    """Also of one that was stopped in the middle: what it did until then."""
    with transaction.atomic():
        bulk = _held(actor, bulk, State.DONE, State.DOING)
        now = now or timezone.now()
        if bulk.done_at and now > bulk.done_at + UNDO_FOR:
            raise Refused(
                _("It was done more than {days} days ago. Change each row on its own page.").format(
                    days=UNDO_FOR.days
                )
            )
        if not bulk.rows.filter(state=Row.DONE).exists():
            raise Refused(_("It changed nothing that could be undone."))
        bulk.state, bulk.done_at = State.UNDOING, bulk.done_at or now
        bulk.save(update_fields=["state", "done_at"])
        return _go(actor, bulk)


@transaction.atomic
def drop_act(*, actor: User, bulk: BulkAct) -> None:
    """Nothing was changed by it, so nothing is kept of it."""
    _held(actor, bulk, *BulkAct.UNWRITTEN).delete()


def carry_on(bulk: BulkAct, tell: Teller = lambda _done, _total: None) -> BulkAct:
    """From where it stands to the end of its step; each batch is kept by itself, so it may stop after any."""
    total = bulk.rows.count()
    while True:
        with transaction.atomic():
            bulk = BulkAct.objects.select_for_update(of=("self",)).select_related("actor").get(pk=bulk.pk)
            if not bulk.is_at_work or not _worked_batch(bulk):
                return bulk
            waiting = bulk.rows.filter(state=STEPS[State(bulk.state)].rows).count()
        tell(total - waiting, total)


def sweep(now: datetime) -> str:
    """What was tried and not done goes after a day, the rest when nobody looks at it any more."""
    unwritten = BulkAct.objects.filter(state__in=BulkAct.UNWRITTEN, began_at__lt=now - DROPPED_AFTER)
    old = BulkAct.objects.filter(done_at__lt=now - KEPT_FOR)
    gone = unwritten.count() + old.count()
    with transaction.atomic():
        for acts in (unwritten, old):
            BulkRow.objects.filter(bulk__in=acts).delete()
            acts.delete()
    return FORGOTTEN.format(count=gone)


def _go(actor: User, bulk: BulkAct) -> BulkAct:
    if bulk.rows.count() > MOST_AT_ONCE:
        later.start(actor, bulk)
        return bulk
    return carry_on(bulk)


def _worked_batch(bulk: BulkAct) -> bool:
    """Whether there was any."""
    if not bulk.actor.is_active:
        # Their memberships stand, and so no service would refuse them.
        raise PermissionDenied
    step = STEPS[State(bulk.state)]
    batch = list(bulk.rows.filter(state=step.rows)[:BATCH])
    if not batch:
        _end(bulk, step)
        return False
    hand = _hand(bulk)
    rows = hand.rows(batch)
    for kept in batch:
        step.work(hand, kept, rows.get(kept.row_id))
    BulkRow.objects.bulk_update(batch, KEPT_FIELDS)
    return True


def _hand(bulk: BulkAct) -> Hand:
    found, act = declared(bulk)
    form = act.form(bulk.facts, actor=bulk.actor)
    if bulk.state == State.UNDOING:
        return Hand(bulk.actor, found, act, {})
    if not form.is_valid():
        raise Refused(_("What was said of this act does not hold any more. Begin it anew."))
    return Hand(bulk.actor, found, act, form.cleaned_data)


def _refuse_words(bulk: BulkAct, facts: Mapping[str, str]) -> None:
    _found, act = declared(bulk)
    form = act.form(facts, actor=bulk.actor)
    if not form.is_valid():
        raise Refused(_("Say what shall become of the rows."))


def _end(bulk: BulkAct, step: Step) -> None:
    bulk.state = step.ends
    if step.ends == State.DONE:
        bulk.done_at = timezone.now()
    if step.ends == State.UNDONE:
        bulk.undone_at = timezone.now()
    bulk.save(update_fields=["state", "done_at", "undone_at"])
    if step.ends != State.TRIED:
        _record(bulk)


def _record(bulk: BulkAct) -> None:
    """Each row has its own entry, by its own service; this one says that they were one act."""
    found, act = declared(bulk)
    counts: dict[str, Any] = dict(bulk.rows.order_by().values_list("state").annotate(Count("pk")))
    is_undone = bulk.state == State.UNDONE
    number = counts.get(Row.UNDONE if is_undone else Row.DONE, 0)
    sites = set(bulk.rows.order_by().values_list("site_id", flat=True).distinct())
    record(
        actor=bulk.actor,
        verb="bulk.undone" if is_undone else "bulk.done",
        sentence=f"{'undid' if is_undone else 'did'} one act on many {found.things} ({act.name}): {number}",
        site_id=sites.pop() if len(sites) == 1 else None,
        subjects=[bulk],
        detail={"list": found.name, "act": act.name, "rows": counts},
    )


def _held(actor: User, bulk: BulkAct, *states: State) -> BulkAct:
    held = BulkAct.objects.select_for_update(of=("self",)).select_related("actor").get(pk=bulk.pk)
    if held.actor_id != actor.pk:
        raise PermissionDenied
    if held.state not in states:
        raise Conflict(
            _("This act is already further: {state}. Look at it again.").format(
                state=held.get_state_display()
            )
        )
    return held
