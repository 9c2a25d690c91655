"""Holds a server against the real world: what must be true whatever network, clocks and people did.

The book is the truth; the referee knows what was written, what was answered and what really happened, and
none of the rules by which the server decides.
"""

from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass, field

from tests.keyctl.field.simulator.book import Book, Estate, Json, cores_in, moves_cores
from tests.keyctl.field.simulator.server import APPLIED, CONFLICT, DUPLICATE, REJECTED, Row, Server


@dataclass
class Referee:
    estate: Estate
    book: Book
    server: Server
    # Every fact that was written on any tablet, and those that are malformed or made up.
    written: dict[str, Json] = field(default_factory=dict)
    malformed: set[str] = field(default_factory=set)
    made_up: set[str] = field(default_factory=set)
    # By fact: the tablet in whose name it came, and its first answer.
    came: dict[str, tuple[str, str]] = field(default_factory=dict)
    withdrawn: set[str] = field(default_factory=set)
    effects: Counter[str] = field(default_factory=Counter)
    outcomes: Counter[str] = field(default_factory=Counter)
    # The register at the last look, and what was settled since.
    seen: dict[str, Row] = field(default_factory=dict)
    settled: set[str] = field(default_factory=set)

    def take(self, actor: str | None, envelope: Json, *, device: str) -> list[Json] | None:
        """Pass a batch on and judge what came back."""
        before = self.server.register() if envelope["device"] in self.withdrawn else None
        answers = self.server.take(actor, envelope, device=device)
        if before is not None:
            assert self.server.register() == before, "a withdrawn tablet changed the register"
        if actor is None:
            assert answers is None, "answered though nobody is signed in"
            return None
        assert answers is not None
        if self._judge(envelope, answers):
            self.look()
        return answers

    def _judge(self, envelope: Json, answers: list[Json]) -> bool:
        """Whether there was anything new."""
        events, known = envelope["events"], len(self.came)
        assert [each["event_id"] for each in answers] == [each["event_id"] for each in events], "not in order"
        for event, answer in zip(events, answers, strict=True):
            self.outcomes[answer["outcome"]] += 1
            if event["event_id"] in self.came:
                self._judge_repeat(self.came[event["event_id"]][1], answer)
            else:
                self._judge_new(envelope["device"], event, answer["outcome"])
        return len(self.came) > known

    def _judge_repeat(self, first: str, answer: Json) -> None:
        if first == REJECTED:
            # What cannot be read is not told from its repeat.
            assert answer["outcome"] in {REJECTED, DUPLICATE}, "a malformed fact was taken at last"
            return
        assert answer["outcome"] == DUPLICATE, f"a fact that came before is {answer['outcome']}"
        assert answer["first_outcome"] == first, "a repeated fact is answered otherwise"

    def _judge_new(self, device: str, event: Json, outcome: str) -> None:
        self.came[event["event_id"]] = (device, outcome)
        expected = {APPLIED, CONFLICT}
        if event["event_id"] in self.malformed:
            expected = {REJECTED}
        elif device in self.withdrawn:
            expected = {CONFLICT}
        elif self.estate.calm:
            expected = {APPLIED}
        assert outcome in expected, f"{event['kind']} is {outcome}"
        if outcome != REJECTED and device not in self.withdrawn:
            self.count_effect(event, went=outcome == APPLIED)

    def count_effect(self, event: Json, *, went: bool) -> None:
        if not went:
            self.effects["contradicted"] += 1
        elif moves_cores(event):
            self.effects["swapped" if event["kind"] == "swapped" else "moved"] += 1

    def look(self) -> dict[str, Row]:
        """The register as it is: one core in a housing, no version that falls, no dispute without a case."""
        register = self.server.register()
        assert register.keys() == self.estate.spots.keys(), "cores came or went"
        housed = [row.spot for row in register.values() if row.spot[0] == "housing"]
        assert len(housed) == len(set(housed)), "two cores in one housing"
        for tag, before in self.seen.items():
            self._judge_change(tag, before, register[tag])
        self.seen, self.settled = register, set()
        disputed = {tag for tag, row in register.items() if row.disputed}
        assert disputed == set().union(*self.server.cases().values()), "disputes and open cases differ"
        return register

    def note_settled(self, cores: set[str]) -> None:
        self.settled = cores
        self.look()

    def _judge_change(self, tag: str, before: Row, after: Row) -> None:
        assert after.version >= before.version, f"the version of {tag} fell"
        assert after.version > before.version or after.spot == before.spot, f"{tag} moved under one version"
        if before.disputed and tag not in self.settled:
            assert after == before, f"{tag} changed while it was disputed"

    def compare(self) -> None:
        """Every difference between the register and the world is one that somebody is told of."""
        for tag, row in self.look().items():
            known = row.disputed or tag in self.book.untold
            assert known or row.spot == self.book.spots[tag], (
                f"{tag} is in {self.book.spots[tag]}, the register says {row.spot} and sees no dispute"
            )

    def audit(self, sent: set[str]) -> None:
        """What was kept: each fact that came, once, as it was written; each effect with a line of history."""
        stored = self.server.stored()
        assert Counter(name for name, _ in stored) == Counter(list(self.came)), (
            "not every fact is stored once"
        )
        assert sent <= self.came.keys(), "a tablet counts as sent what never came"
        for name, fact in stored:
            event, (device, outcome) = self.written[name], self.came[name]
            facts = (fact.device, fact.sequence, fact.kind, fact.body, fact.outcome)
            assert facts == (device, event["sequence"], event["kind"], event["body"], outcome), name
        assert self.server.history() == self.effects, "history and effects differ"

    def count_numbers(self, devices: Iterable[str]) -> None:
        """Numbers that a tablet must have given and that never came."""
        for device in devices:
            came = [self.written[name] for name, (whose, _) in self.came.items() if whose == device]
            seen = {event["sequence"] for event in came}
            missing = set(range(1, max(seen, default=0))) - seen
            assert self.server.gaps(device) == missing, f"missing numbers of {device}"

    def note_untold(self, set_aside: set[str]) -> None:
        """The cores of facts that were lost with a tablet or laid aside though they are true."""
        for name, event in self.written.items():
            lost = name not in self.came or name in set_aside
            if lost and moves_cores(event) and name not in self.made_up | self.malformed:
                self.book.untold |= set(cores_in(event))
