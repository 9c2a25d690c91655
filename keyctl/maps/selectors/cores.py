"""Where one core has been since it was registered: housings, shelf, bench and cases; and when it was pinned.

History tells it. An act from before it said which core went in is read by what followed: a swap takes a core
in or out, and where the core is now is known.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from uuid import UUID

from django.utils.translation import gettext as _

from keyctl.accounts.models import User
from keyctl.audit.models import Event, EventSubject
from keyctl.cores.models import Core
from keyctl.lib.drawing.spans import Happening, Span
from keyctl.places.models import Door, Housing
from keyctl.places.selectors import visible_history

SWAPPED, MOVED = "core.swapped", "core.moved"
REGISTERED = ("core.registered", "core.registered_many")
MOVES = (SWAPPED, MOVED, *REGISTERED)
PINNED = ("core.pinned", "core.pinned_many")
OTHER = ("core.emptied_many", "core.found_pins_recorded")
LOOKS = {
    "housing": "solid",
    "shelf": "plain",
    "bench": "dots",
    "case": "slant",
    "gone": "dense",
    "": "hollow",
}


@dataclass(frozen=True)
class _Names:
    """Housings by identifier, and the doors that events name."""

    housings: dict[str, str]
    doors: dict[int, str]


def story_of_core(actor: User, core: Core) -> tuple[list[Span], list[Happening]]:
    events = list(visible_history(actor, core).filter(verb__in=[*MOVES, *PINNED, *OTHER]).order_by("id"))
    moves = [event for event in events if event.verb in MOVES]
    names = _names(moves)
    inside = _in_a_door_after(core, moves)
    spans: list[Span] = []
    for event, is_inside in zip(moves, inside, strict=True):
        span = _span(event, is_inside, names)
        if spans:
            spans[-1] = replace(spans[-1], end=max(span.begin, spans[-1].begin))
        spans.append(replace(span, begin=max(span.begin, spans[-1].begin)) if spans else span)
    spans = _joined([span for span in spans if span.end is None or span.end > span.begin])
    _end_where_it_is(spans, core)
    return spans, [Happening(event.at, _what(event.verb)) for event in events if event.verb not in MOVES]


def _in_a_door_after(core: Core, moves: Sequence[Event]) -> list[bool]:
    """For each move whether the core was in a door after it, read from the end."""
    after, found = core.place == Core.Place.HOUSING, list[bool]()
    for event in reversed(moves):
        if went_in := event.detail.get("core_in"):
            after = went_in == str(core.pk)
        elif event.verb != SWAPPED:
            after = False
        found.append(after)
        # What a swap took in was out before it; only what is in no door is moved.
        after = not after if event.verb == SWAPPED else False
    return found[::-1]


def _names(moves: Sequence[Event]) -> _Names:
    wanted = {event.detail["housing"] for event in moves if event.detail.get("housing")}
    housings = Housing.objects.filter(pk__in=wanted).select_related("door__floor__building")
    subjects = EventSubject.objects.filter(event__in=moves, kind=Door._meta.label_lower)
    by_event: dict[int, UUID] = dict(subjects.values_list("event", "subject_id"))
    doors = Door.objects.select_related("floor__building").in_bulk(list(by_event.values()))
    named = {event: str(doors[pk]) for event, pk in by_event.items() if pk in doors}
    return _Names({str(housing.pk): str(housing) for housing in housings}, named)


def _span(event: Event, is_inside: bool, names: _Names) -> Span:
    if is_inside:
        words = names.housings.get(event.detail.get("housing", "")) or names.doors.get(event.pk)
        return _at("housing", words or _("In a door"), event)
    if event.verb in REGISTERED:
        return _at(Core.Place.BENCH, _place_words(Core.Place.BENCH), event)
    place = event.detail.get("put_at") or event.detail.get("place") or ""
    if place == Core.Place.CASE:
        return _at(place, _("In the case of {person}").format(person=event.actor_name), event)
    return _at(place, _place_words(place), event)


def _at(place: str, words: str, event: Event) -> Span:
    return Span(words, LOOKS[place], event.at, key=f"{place} {words}", note=event.actor_name)


def _place_words(place: str) -> str:
    """Of an act that did not say where to: only that it was in no door."""
    words = {
        Core.Place.SHELF: _("On the shelf"),
        Core.Place.BENCH: _("On the bench"),
        Core.Place.GONE: _("Gone"),
    }
    return words.get(Core.Place(place), "") if place else _("In no door")


def _joined(spans: Sequence[Span]) -> list[Span]:
    """Put where it lay already: one span."""
    found: list[Span] = []
    for span in spans:
        if found and found[-1].key == span.key:
            found[-1] = replace(found[-1], end=span.end)
        else:
            found.append(span)
    return found


def _end_where_it_is(spans: list[Span], core: Core) -> None:
    """The core's own row decides the last span, as exactly as it knows."""
    if spans:
        spans[-1] = replace(
            spans[-1], look=LOOKS[core.place], place=_now(core), key=f"{core.place} {_now(core)}"
        )


def _now(core: Core) -> str:
    if core.housing:
        return str(core.housing)
    if core.carrier:
        return _("In the case of {person}").format(person=core.carrier)
    return _place_words(core.place)


def _what(verb: str) -> str:
    if verb in PINNED:
        return _("Pinned")
    return _("Pins recorded as found") if verb == "core.found_pins_recorded" else _("Pins taken out")
