"""Where one key copy has been since it was cut: with whom by the register, in which cabinet, or lost.

The lines of the register say with whom; history says in which cabinet it hung, as far as that was written
down. Spans follow each other without a gap, and the last one is where the copy is now.
"""

from collections.abc import Iterator
from dataclasses import dataclass, replace
from datetime import datetime
from typing import Any
from uuid import UUID

from django.urls import reverse
from django.utils.translation import gettext as _

from keyctl.audit.models import EventSubject
from keyctl.audit.selectors import history_of
from keyctl.keys.models import Cabinet, Custody, KeyCopy
from keyctl.lib.drawing.spans import Happening, Span

State = KeyCopy.State
HANGS = ("key.cut", "key.taken_back", "key.moved", "key.found")
TOLD = (*HANGS, "key.lost", "key.destroyed", "key.broken")
LOOKS = {State.HELD: "solid", State.IN_CABINET: "plain", State.LOST: "cross", State.DESTROYED: "dense"}


@dataclass(frozen=True)
class _Mark:
    """From this moment on it is in this state, with somebody or in a cabinet (none where nobody wrote it)."""

    at: datetime
    state: State
    place: Any = None
    url: str = ""


def story_of_copy(copy: KeyCopy) -> tuple[list[Span], list[Happening]]:
    events = list(history_of(copy).filter(verb__in=TOLD).order_by("id").values_list("pk", "verb", "at"))
    marks = [*_marks_of_lines(copy), *_marks_of_events(events)]
    spans: list[Span] = [_span(_Mark(copy.cut_at, State.IN_CABINET))]
    for mark in sorted(marks, key=lambda mark: mark.at):
        _go_on(spans, _span(mark))
    _end_where_it_is(spans, copy)
    broken = [Happening(at, _("Reported broken")) for _pk, verb, at in events if verb == "key.broken"]
    return spans, broken


def _marks_of_lines(copy: KeyCopy) -> Iterator[_Mark]:
    """A line that ended by a transfer goes over into the next one."""
    for line in Custody.objects.filter(copy=copy).select_related("holder").order_by("out_at", "pk"):
        yield _Mark(line.out_at, State.HELD, line.holder, reverse("keys:handover", args=[line.out_act_id]))
        if line.ended_at and line.ending == Custody.Ending.RETURNED:
            yield _Mark(line.ended_at, State.IN_CABINET)
        elif line.ended_at and line.ending == Custody.Ending.LOST:
            yield _Mark(line.ended_at, State.LOST)


def _marks_of_events(events: list[tuple[int, str, datetime]]) -> Iterator[_Mark]:
    cabinets = _cabinets_of([pk for pk, _verb, _at in events])
    for pk, verb, at in events:
        if verb in HANGS:
            yield _Mark(at, State.IN_CABINET, cabinets.get(pk))
        elif verb == "key.lost":
            yield _Mark(at, State.LOST)
        elif verb == "key.destroyed":
            yield _Mark(at, State.DESTROYED)


def _cabinets_of(events: list[int]) -> dict[int, Cabinet]:
    named = EventSubject.objects.filter(event__in=events, kind=Cabinet._meta.label_lower)
    rows: list[tuple[int, UUID]] = list(named.values_list("event", "subject_id"))
    found = Cabinet.objects.in_bulk([cabinet for _event, cabinet in rows])
    return {event: found[cabinet] for event, cabinet in rows if cabinet in found}


def _span(mark: _Mark) -> Span:
    """Names are those of today: what was taken out of the register is not in the picture."""
    words = str(mark.place) if mark.place else _words(mark.state)
    key = f"{mark.state} {mark.place.pk if mark.place else ''}"
    return Span(words, LOOKS[mark.state], mark.at, url=mark.url, key=key, note=_words(mark.state))


def _words(state: State) -> str:
    return {
        State.HELD: _("With a holder"),
        State.IN_CABINET: _("In a cabinet"),
        State.LOST: _("Lost"),
        State.DESTROYED: _("Destroyed"),
    }[state]


def _go_on(spans: list[Span], span: Span) -> None:
    """An act and its event are moments apart: the event only names the cabinet that the act left open."""
    last = spans[-1]
    span = replace(span, begin=max(span.begin, last.begin))
    if span.key == last.key or (span.key == _UNNAMED and last.look == span.look):
        return
    is_its_event = (span.begin - last.begin).total_seconds() < _ONE_ACT
    if last.key == _UNNAMED and span.look == last.look and is_its_event:
        spans[-1] = replace(span, begin=last.begin)
        return
    spans.pop()
    if last.begin < span.begin:
        spans.append(replace(last, end=span.begin))
    spans.append(span)


_UNNAMED = f"{State.IN_CABINET} "
# What one transaction writes down lies within so many seconds.
_ONE_ACT = 5.0


def _end_where_it_is(spans: list[Span], copy: KeyCopy) -> None:
    """The copy's own row decides: what was written past the services shows without its moment."""
    now = _span(_Mark(spans[-1].begin, State(copy.state), copy.holder or copy.cabinet))
    if spans[-1].key != now.key:
        spans[-1] = replace(now, url=spans[-1].url if spans[-1].look == now.look else "")
