"""A small server in plain Python, with switches that break it: what the referee must see.

It is no referee itself. It keeps the protocol as it is written down: a game against it costs next to nothing,
and shows in thousands of worlds that the protocol holds, and that each fault comes to light.
"""

from collections import Counter
from collections.abc import Iterator
from collections.abc import Set as AbstractSet
from contextlib import contextmanager
from copy import deepcopy
from dataclasses import dataclass, field
from datetime import datetime

from tests.keyctl.field.simulator.book import Estate, Json, Spot
from tests.keyctl.field.simulator.double_register import Contradiction, DoubleRegister
from tests.keyctl.field.simulator.faults import Fault
from tests.keyctl.field.simulator.server import APPLIED, CONFLICT, DUPLICATE, REJECTED, Row, Stored
from tests.keyctl.field.simulator.tablet import Pack

NEEDED = {
    "swapped": {"line", "housing", "core_in", "core_in_version", "core_out", "put_at"},
    "put": {"core", "core_version", "place"},
    "found": {"housing", "core"},
    "unreached": {"line", "reason"},
    "noted": {"text"},
}


@dataclass
class Double:
    estate: Estate
    faults: AbstractSet[Fault] = frozenset()
    facts: list[tuple[str, Stored]] = field(default_factory=list)
    withdrawn: set[str] = field(default_factory=set)
    waiting: dict[str, Json] = field(default_factory=dict)
    open_cases: list[frozenset[str]] = field(default_factory=list)
    clocks: dict[str, datetime] = field(default_factory=dict)

    def __post_init__(self) -> None:
        self.cores = DoubleRegister(self.estate, self.faults)

    def pack(self, device: str) -> Pack:
        return Pack(
            {tag: core.spot for tag, core in self.cores.held.items()},
            {tag: core.version for tag, core in self.cores.held.items()},
            dict(self.cores.lines),
            max(self._numbers(device), default=0) + 1,
        )

    # A batch

    def take(self, actor: str | None, envelope: Json, *, device: str) -> list[Json] | None:  # noqa: ARG002
        if actor is None:
            return None
        answers: list[Json] = []
        for event in envelope["events"]:
            if Fault.STOPS_AT_A_BAD_ONE in self.faults and REJECTED in [each["outcome"] for each in answers]:
                answers.append({"event_id": event["event_id"], "outcome": APPLIED})
            else:
                answers.append(self._take_one(envelope["device"], event))
        if Fault.ANSWERS_FIRST in self.faults and len(answers) > 1 and answers[-1]["outcome"] == APPLIED:
            self.facts.pop()
        return answers

    def _take_one(self, device: str, event: Json) -> Json:
        answer = {"event_id": event["event_id"]}
        known = self._known(device, event)
        if known is None:
            return answer | {"outcome": self._store(device, event)}
        first = CONFLICT if Fault.CHANGES_ITS_ANSWER in self.faults else known.outcome
        return answer | {"outcome": DUPLICATE, "first_outcome": first}

    def _known(self, device: str, event: Json) -> Stored | None:
        if Fault.FORGETS_WHAT_CAME in self.faults:
            return None
        for name, fact in self.facts:
            same_number = (fact.device, fact.sequence) == (device, event["sequence"])
            if name == event["event_id"] or (same_number and Fault.SEQUENCE_IS_NAME in self.faults):
                return fact
        return None

    def _store(self, device: str, event: Json) -> str:
        outcome = self._outcome(device, event)
        if event["kind"] != "noted" or Fault.FORGETS_REMARKS not in self.faults:
            fact = Stored(device, event["sequence"], event["kind"], event["body"], outcome)
            self.facts.append((event["event_id"], fact))
        return outcome

    def _outcome(self, device: str, event: Json) -> str:
        if not NEEDED.get(event["kind"], {"no such kind"}) <= event["body"].keys():
            return REJECTED
        if device in self.withdrawn and Fault.OBEYS_WITHDRAWN not in self.faults:
            self.waiting[event["event_id"]] = event
            return CONFLICT
        return self._apply(event)

    def _apply(self, event: Json) -> str:
        try:
            self.cores.apply(event)
        except Contradiction:
            return self._contradicted(event)
        return APPLIED

    def _contradicted(self, event: Json) -> str:
        if Fault.REFUSES_FACTS in self.faults:
            return REJECTED
        cores = self.cores.concerned(event["body"])
        if Fault.LAST_CLOCK_WINS in self.faults and self._is_latest(event, cores):
            self.cores.force(event)
            return APPLIED
        self.cores.dispute(cores)
        apart = [case for case in self.open_cases if not case & cores]
        joined = [case for case in self.open_cases if case & cores]
        self.open_cases = [*apart, frozenset(cores.union(*joined))]
        self.cores.history["contradicted"] += 1
        return CONFLICT

    def _is_latest(self, event: Json, cores: set[str]) -> bool:
        claimed = datetime.fromisoformat(event["claimed_at"])
        latest = all(self.clocks.get(core, claimed) <= claimed for core in cores)
        self.clocks |= dict.fromkeys(cores, claimed)
        return latest

    # Ordinary pages

    def swap(self, actor: str, line: str, core_in: str, core_out: str, place: str) -> bool:
        held = self.cores.held[core_in]
        facts = {"line": line, "housing": self.cores.lines.get(line, ""), "operating_key_turned": True}
        facts |= {"core_in": core_in, "core_in_version": held.version, "core_out": core_out, "put_at": place}
        facts["core_out_version"] = self.cores.held[core_out].version if core_out else None
        return self._by_page({"kind": "swapped", "person": actor, "body": facts})

    def put(self, actor: str, core: str, place: str) -> bool:
        facts = {"core": core, "core_version": self.cores.held[core].version, "place": place}
        return self._by_page({"kind": "put", "person": actor, "body": facts})

    def _by_page(self, act: Json) -> bool:
        try:
            self.cores.apply(act)
        except Contradiction:
            return False
        return True

    # Withdrawn tablets

    def withdraw(self, device: str) -> None:
        self.withdrawn.add(device)

    def quarantine(self) -> list[str]:
        return list(self.waiting)

    def take_in(self, event: str) -> bool:
        return self._apply(self.waiting.pop(event)) == APPLIED

    def set_aside(self, event: str) -> None:
        del self.waiting[event]

    # Cases

    def cases(self) -> dict[str, frozenset[str]]:
        return {str(number): case for number, case in enumerate(self.open_cases)}

    def settle(self, case: str, places: dict[str, Spot]) -> bool:
        if not self.cores.settle(places):
            return False
        del self.open_cases[int(case)]
        return True

    # What the referee reads

    def register(self) -> dict[str, Row]:
        return {tag: Row(core.spot, core.version, core.disputed) for tag, core in self.cores.held.items()}

    def stored(self) -> list[tuple[str, Stored]]:
        return self.facts

    def gaps(self, device: str) -> set[int]:
        numbers = set() if Fault.SEES_NO_GAP in self.faults else self._numbers(device)
        return set(range(1, max(numbers, default=0))) - numbers

    @contextmanager
    def branch(self) -> Iterator["Double"]:
        yield deepcopy(self)

    def history(self) -> Counter[str]:
        return self.cores.history

    def _numbers(self, device: str) -> set[int]:
        return {fact.sequence for _, fact in self.facts if fact.device == device}
