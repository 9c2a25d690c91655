"""Who works on the estate over HTTP, each on its own cores, and a book of what was answered to it."""

import json
from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import UTC, datetime
from http.client import HTTPConnection, HTTPException
from random import Random
from typing import Any
from urllib.parse import urlencode
from uuid import UUID

Json = dict[str, Any]
Spot = tuple[str, int]
OUTSIDE = ("shelf", "bench")
APPLIED, DUPLICATE = "applied", "duplicate"
JSON, FORM = "application/json", "application/x-www-form-urlencoded"
CHECKS = ("operating_key_turned", "control_key_came_out", "egress_and_latch_tried")
MOST_AT_ONCE = 200
ANSWERS_WITHIN_S = 60


class Wrong(AssertionError):
    """The server answered, and the answer is not one that it may give."""


class NotTaken(Wrong):
    """Something else than what was asked for, with its status."""

    def __init__(self, status: int, text: str) -> None:
        super().__init__(f"status {status}: {text[:500]}")
        self.status, self.text = status, text


class Cut(Exception):
    """The connection ended before the answer."""


@dataclass
class Line:
    """One connection, with the session's cookies and its token."""

    port: int
    cookies: dict[str, str]
    token: str = ""
    is_kept_open: bool = True
    _wire: HTTPConnection | None = None

    def hang_up(self) -> None:
        if self._wire is not None:
            self._wire.close()
        self._wire = None

    def ask(self, method: str, path: str, body: str | None = None, kind: str = "") -> tuple[int, str, str]:
        """Status, text, and where a redirect leads."""
        headers = {"Cookie": "; ".join(f"{name}={value}" for name, value in self.cookies.items())}
        headers |= {"X-CSRFToken": self.token} | ({"Content-Type": kind} if kind else {})
        headers |= {} if kind == JSON else {"Accept": "text/html"}
        try:
            if self._wire is None:
                self._wire = HTTPConnection("127.0.0.1", self.port, timeout=ANSWERS_WITHIN_S)
            self._wire.request(method, path, body, headers)
            answer = self._wire.getresponse()
            text = answer.read().decode()
        except (OSError, HTTPException) as error:
            self.hang_up()
            raise Cut from error
        if not self.is_kept_open:
            self.hang_up()
        self._keep(answer.headers.get_all("Set-Cookie") or [])
        return answer.status, text, answer.headers.get("Location", "")

    def _keep(self, told: list[str]) -> None:
        for each in told:
            name, _, value = each.partition(";")[0].partition("=")
            self.cookies[name] = value

    def greet(self) -> None:
        status, text, _ = self.ask("GET", "/field/state/")
        told = json.loads(text)
        if status != 200 or not told["signed_in"]:
            raise Wrong(f"not signed in: {status} {text}")
        self.token = told["csrf"]


@dataclass
class Hand:
    line: Line
    rng: Random
    # By the tag of each core: where it is, and its version, after everything that was answered.
    spots: dict[str, Spot]
    answered: int = 0

    def work_until_cut(self) -> None:
        try:
            while True:
                self.act()
        except Cut:
            self.line.hang_up()

    def act(self) -> None:
        raise NotImplementedError

    def unanswered(self) -> dict[str, Spot]:
        """Where the cores are if the act whose answer is missing was done: all of it or nothing."""
        raise NotImplementedError

    def take_up(self, there: Mapping[str, Spot]) -> None:
        """After a restart; ``there`` is what the database says of each core, before anybody asked again."""
        raise NotImplementedError

    def repeat_everything(self) -> None:
        """At the very end, what can be asked once more is."""


@dataclass
class Tablet(Hand):
    """Swaps at doors, as the tablet's app tells them: one event a request, each with its identifier."""

    person: str = ""
    device: str = ""
    housings: list[str] = field(default_factory=list)
    sequence: int = 0
    # Told since the last restart, and their answers; at most one of them has none.
    told: list[Json] = field(default_factory=list)
    outcomes: dict[str, str] = field(default_factory=dict)
    done: list[Json] = field(default_factory=list)

    def act(self) -> None:
        event = self._swap()
        self.told.append(event)
        (answer,) = self.send([event])
        if answer["outcome"] != APPLIED:
            raise Wrong(f"{event} was answered {answer}")
        self._book(event)

    def _swap(self) -> Json:
        housing = self.rng.choice(self.housings)
        core_in = self.rng.choice([tag for tag, (spot, _) in self.spots.items() if spot in OUTSIDE])
        core_out = next(tag for tag, (spot, _) in self.spots.items() if spot == housing)
        body: Json = {"line": None, "housing": housing, "put_at": self.rng.choice(OUTSIDE), "note": ""}
        body |= {"core_in": core_in, "core_in_version": self.spots[core_in][1]}
        body |= {"core_out": core_out, "core_out_version": self.spots[core_out][1]}
        self.sequence += 1
        return {
            "event_id": str(UUID(int=self.rng.getrandbits(128), version=4)),
            "sequence": self.sequence,
            "kind": "swapped",
            "claimed_at": datetime.now(UTC).isoformat(),
            "person": self.person,
            "body": body | dict.fromkeys(CHECKS, True),
        }

    def send(self, events: list[Json]) -> list[Json]:
        envelope = {"device": self.device, "sent_at": datetime.now(UTC).isoformat(), "events": events}
        status, text, _ = self.line.ask("POST", "/field/events/", json.dumps(envelope), JSON)
        if status != 200:
            raise NotTaken(status, text)
        answers: list[Json] = json.loads(text)["answers"]
        return answers

    def _book(self, event: Json) -> None:
        self.spots |= _foreseen(event)
        self.outcomes[event["event_id"]] = APPLIED
        self.done.append(event)
        self.answered += 1

    def unanswered(self) -> dict[str, Spot]:
        last = self.told[-1] if self.told else None
        return _foreseen(last) if last and last["event_id"] not in self.outcomes else {}

    def take_up(self, there: Mapping[str, Spot]) -> None:  # noqa: ARG002 (a bench asks it)
        """Everything is sent again: what was answered is known, what was not is done now or was done."""
        self._repeat(self.told)
        self.told.clear()

    def repeat_everything(self) -> None:
        self._repeat(self.done)

    def _repeat(self, events: list[Json]) -> None:
        for start in range(0, len(events), MOST_AT_ONCE):
            part = events[start : start + MOST_AT_ONCE]
            for event, answer in zip(part, self.send(part), strict=True):
                self._compare(event, answer)

    def _compare(self, event: Json, answer: Json) -> None:
        first = self.outcomes.get(event["event_id"])
        heard = (answer["outcome"], answer["first_outcome"])
        if first is not None and heard != (DUPLICATE, first):
            raise Wrong(f"answered {first} and lost: {event} is now {answer}")
        if first is None and heard not in {(DUPLICATE, APPLIED), (APPLIED, None)}:
            raise Wrong(f"{event} was cut off, and is now {answer}")
        if first is None:
            self._book(event)


def _foreseen(event: Json) -> dict[str, Spot]:
    body = event["body"]
    return {
        body["core_in"]: (body["housing"], body["core_in_version"] + 1),
        body["core_out"]: (body["put_at"], body["core_out_version"] + 1),
    }


@dataclass
class Bench(Hand):
    """Moves cores between shelf and bench on their pages; a redirect says that it was done."""

    ids: dict[str, str] = field(default_factory=dict)
    asked: tuple[str, Spot] | None = None

    def act(self) -> None:
        tag = self.rng.choice(sorted(self.ids))
        spot, version = self.spots[tag]
        place = next(each for each in OUTSIDE if each != spot)
        self.asked = (tag, (place, version + 1))
        form = urlencode({"place": place, "version": version})
        status, text, leads_to = self.line.ask("POST", f"/estate/cores/{self.ids[tag]}/move/", form, FORM)
        if status != 302 or self.ids[tag] not in leads_to:
            raise NotTaken(status, text)
        self._book()

    def _book(self) -> None:
        assert self.asked is not None
        tag, self.spots[tag] = self.asked
        self.asked = None
        self.answered += 1

    def unanswered(self) -> dict[str, Spot]:
        return dict([self.asked]) if self.asked else {}

    def take_up(self, there: Mapping[str, Spot]) -> None:
        """A form has no identifier: whether the last one was taken, the core's page says."""
        if self.asked is None:
            return
        tag, foreseen = self.asked
        if there[tag] == foreseen:
            self._book()
        self.asked = None


def hands_of(estate: Json, port: int, seed: int) -> list[Hand]:
    """Everybody, greeted."""
    tablets = [
        Tablet(
            Line(port, facts["cookies"]),
            Random(f"tablet {n} {seed}"),
            _spots(facts),
            person=facts["person"],
            device=facts["device"],
            housings=facts["housings"],
        )
        for n, facts in enumerate(estate["tablets"])
    ]
    benches = [
        Bench(Line(port, facts["cookies"]), Random(f"bench {n} {seed}"), _spots(facts), ids=facts["ids"])
        for n, facts in enumerate(estate["benches"])
    ]
    hands: list[Hand] = [*tablets, *benches]
    for hand in hands:
        hand.line.greet()
    return hands


def _spots(facts: Json) -> dict[str, Spot]:
    return {tag: (spot, version) for tag, (spot, version) in facts["cores"].items()}
