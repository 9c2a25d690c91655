"""Reading what a tablet sent: strict about what it must say, and a fault is told with its place."""

import hashlib
import json
import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import Any
from uuid import UUID

from keyctl.lib.tags import clean_tag

MOST_NUMBER = 2**31 - 1
LONGEST_NOTE = 4000
LONGEST_TAG = 200
LONGEST_EVENT = 32_768
MOST_ITEMS = 60
DEEPEST = 6
YEARS = range(2000, 2101)


class Malformed(Exception):
    """Its text names the place and what is wrong there."""


@dataclass(frozen=True)
class Swapped:
    line: UUID | None
    housing: UUID
    core_in: str
    core_in_version: int | None
    core_out: str
    core_out_version: int | None
    put_at: str
    operating_key_turned: bool
    control_key_came_out: bool
    egress_and_latch_tried: bool
    note: str


@dataclass(frozen=True)
class Put:
    core: str
    core_version: int | None
    place: str


@dataclass(frozen=True)
class Found:
    housing: UUID
    core: str


@dataclass(frozen=True)
class Unreached:
    line: UUID
    reason: str


@dataclass(frozen=True)
class Checked:
    line: UUID
    items: Mapping[str, str]
    note: str


@dataclass(frozen=True)
class Noted:
    door: UUID | None
    line: UUID | None
    text: str


@dataclass(frozen=True)
class Photographed:
    door: UUID
    line: UUID | None
    photo: UUID
    sha256: str
    caption: str


Body = Swapped | Put | Found | Unreached | Checked | Noted | Photographed


@dataclass(frozen=True)
class Told:
    """One event as it was told."""

    event_id: UUID
    sequence: int
    kind: str
    claimed_at: datetime
    person: UUID
    body: Body
    raw_body: Mapping[str, Any]
    digest: str


class Reader:
    """The members of one object; ``place`` is the way to it."""

    def __init__(self, value: Any, place: str) -> None:
        if not isinstance(value, dict):
            raise Malformed(f"{place or 'The event'} must be an object.")
        self.members, self.place = value, place

    def uuid(self, name: str) -> UUID:
        text = self._text(name)
        try:
            return UUID(text)
        except ValueError:
            raise self._fault(name, "must be a UUID") from None

    def optional_uuid(self, name: str) -> UUID | None:
        return None if self.members.get(name) is None else self.uuid(name)

    def number(self, name: str, least: int) -> int:
        value = self._member(name)
        if isinstance(value, bool) or not isinstance(value, int) or not least <= value <= MOST_NUMBER:
            raise self._fault(name, f"must be a whole number from {least} to {MOST_NUMBER}")
        return value

    def optional_number(self, name: str, least: int) -> int | None:
        return None if self.members.get(name) is None else self.number(name, least)

    def flag(self, name: str) -> bool:
        value = self._member(name)
        if not isinstance(value, bool):
            raise self._fault(name, "must be true or false")
        return value

    def words(self, name: str, *, optional: bool = False) -> str:
        if optional and self.members.get(name) is None:
            return ""
        text = self._text(name).strip()
        if not text and not optional:
            raise self._fault(name, "must not be empty")
        if len(text) > LONGEST_NOTE:
            raise self._fault(name, f"must have at most {LONGEST_NOTE} characters")
        return text

    def tag(self, name: str, *, may_be_none: bool = False) -> str:
        """A tag as it is stored; a scanner gives the whole printed address. What is no tag stays as typed."""
        text = self._text(name).strip()
        if len(text) > LONGEST_TAG or not (text or may_be_none):
            raise self._fault(name, f"must be the tag of a core, at most {LONGEST_TAG} characters")
        return clean_tag(text.rsplit("/", 1)[-1]) or text.upper()

    def choice(self, name: str, *choices: str) -> str:
        text = self._text(name)
        if text not in choices:
            raise self._fault(name, f"must be one of {', '.join(choices)}")
        return text

    def moment(self, name: str) -> datetime:
        return read_moment(self._text(name), f"{self.place}{name}")

    def digest(self, name: str) -> str:
        text = self._text(name)
        if len(text) != 64 or set(text) - set("0123456789abcdef"):
            raise self._fault(name, "must be a SHA-256 in 64 small hexadecimal digits")
        return text

    def marks(self, name: str, *choices: str) -> dict[str, str]:
        value = self._member(name)
        if not isinstance(value, dict) or not 1 <= len(value) <= MOST_ITEMS:
            raise self._fault(name, f"must be an object of 1 to {MOST_ITEMS} items")
        items = Reader(value, f"{self.place}{name}/")
        return {key: items.choice(key, *choices) for key in value}

    def inner(self, name: str) -> "Reader":
        return Reader(self._member(name), f"{self.place}{name}/")

    def _member(self, name: str) -> Any:
        if name not in self.members:
            raise self._fault(name, "is missing")
        return self.members[name]

    def _text(self, name: str) -> str:
        value = self._member(name)
        if not isinstance(value, str):
            raise self._fault(name, "must be a text")
        return value

    def _fault(self, name: str, fault: str) -> Malformed:
        return Malformed(f"{self.place}{name[:40]} {fault}.")


def read_moment(text: str, place: str) -> datetime:
    """A moment with its offset from UTC, in a year in which somebody may have worked."""
    try:
        moment = datetime.fromisoformat(text)
    except ValueError:
        raise Malformed(f"{place} must be a time as in 2030-01-31T08:15:00+01:00.") from None
    if moment.tzinfo is None:
        raise Malformed(f"{place} must say its offset from UTC.")
    if moment.year not in YEARS:
        raise Malformed(f"{place} must lie between the years {YEARS[0]} and {YEARS[-1]}.")
    return moment.astimezone(UTC)


def _swapped(body: Reader) -> Swapped:
    return Swapped(
        line=body.optional_uuid("line"),
        housing=body.uuid("housing"),
        core_in=body.tag("core_in"),
        core_in_version=body.optional_number("core_in_version", 0),
        core_out=body.tag("core_out", may_be_none=True),
        core_out_version=body.optional_number("core_out_version", 0),
        put_at=body.choice("put_at", "shelf", "bench", "case"),
        operating_key_turned=body.flag("operating_key_turned"),
        control_key_came_out=body.flag("control_key_came_out"),
        egress_and_latch_tried=body.flag("egress_and_latch_tried"),
        note=body.words("note", optional=True),
    )


def _put(body: Reader) -> Put:
    return Put(
        core=body.tag("core"),
        core_version=body.optional_number("core_version", 0),
        place=body.choice("place", "shelf", "bench", "case", "gone"),
    )


def _found(body: Reader) -> Found:
    return Found(housing=body.uuid("housing"), core=body.tag("core", may_be_none=True))


def _unreached(body: Reader) -> Unreached:
    return Unreached(line=body.uuid("line"), reason=body.words("reason"))


def _checked(body: Reader) -> Checked:
    items = body.marks("items", "good", "bad", "not_applicable")
    return Checked(line=body.uuid("line"), items=items, note=body.words("note", optional=True))


def _noted(body: Reader) -> Noted:
    return Noted(body.optional_uuid("door"), body.optional_uuid("line"), body.words("text"))


def _photographed(body: Reader) -> Photographed:
    return Photographed(
        door=body.uuid("door"),
        line=body.optional_uuid("line"),
        photo=body.uuid("photo"),
        sha256=body.digest("sha256"),
        caption=body.words("caption", optional=True),
    )


_BODIES: dict[str, Callable[[Reader], Body]] = {
    "swapped": _swapped,
    "put": _put,
    "found": _found,
    "unreached": _unreached,
    "checked": _checked,
    "noted": _noted,
    "photographed": _photographed,
}


def read_event(raw: Any) -> Told:
    _refuse_unstorable(raw)
    event = Reader(raw, "")
    text = text_of(raw)
    if len(text) > LONGEST_EVENT:
        raise Malformed(f"The event is longer than {LONGEST_EVENT} characters.")
    kind = event.choice("kind", *_BODIES)
    body = event.inner("body")
    return Told(
        event_id=event.uuid("event_id"),
        sequence=event.number("sequence", 1),
        kind=kind,
        claimed_at=event.moment("claimed_at"),
        person=event.uuid("person"),
        body=_BODIES[kind](body),
        raw_body=body.members,
        digest=_digest(text),
    )


def read_body(kind: str, members: Mapping[str, Any]) -> Body:
    return _BODIES[kind](Reader(members, "body/"))


def digest_of(raw: Any) -> str:
    """Of the whole event, however its members are ordered."""
    return _digest(text_of(raw))


def _digest(text: str) -> str:
    return hashlib.sha256(text.encode("ascii")).hexdigest()


def text_of(raw: Any) -> str:
    return json.dumps(raw, sort_keys=True, separators=(",", ":"))


def told_id(raw: Any) -> UUID | None:
    """The identifier of something that may be no event at all."""
    told = raw.get("event_id") if isinstance(raw, dict) else None
    try:
        return UUID(told) if isinstance(told, str) else None
    except ValueError:
        return None


def told_sequence(raw: Any) -> int | None:
    told = raw.get("sequence") if isinstance(raw, dict) else None
    is_number = isinstance(told, int) and not isinstance(told, bool) and 1 <= told <= MOST_NUMBER
    return told if is_number else None


def _refuse_unstorable(value: Any, place: str = "", depth: int = 0) -> None:
    """A NUL, half a character or a figure without end is nothing that both databases keep."""
    if depth > DEEPEST:
        raise Malformed(f"{place.rstrip('/')[:80]} is nested too deep.")
    if isinstance(value, dict):
        for name, inner in value.items():
            _refuse_no_text(name, f"{place}a member’s name")
            _refuse_unstorable(inner, f"{place}{name[:40]}/", depth + 1)
    elif isinstance(value, list):
        for nth, inner in enumerate(value):
            _refuse_unstorable(inner, f"{place}{nth}/", depth + 1)
    elif isinstance(value, str):
        _refuse_no_text(value, place.rstrip("/"))
    elif isinstance(value, float) and not math.isfinite(value):
        raise Malformed(f"{place.rstrip('/')} is no number.")


def _refuse_no_text(text: str, place: str) -> None:
    if "\x00" in text or any("\ud800" <= sign <= "\udfff" for sign in text):
        raise Malformed(f"{place or 'The event'} holds signs that are no text.")
