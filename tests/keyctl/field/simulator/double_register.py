"""The cores of the double: what contradicts, what changes, and what a settled case leaves."""

from collections import Counter
from collections.abc import Set as AbstractSet
from dataclasses import dataclass, field

from tests.keyctl.field.simulator.book import BENCH, OUTSIDE, Estate, Json, Spot, inside, spot_at
from tests.keyctl.field.simulator.faults import Fault

# More than any outbox holds of one core: no tablet can have foreseen the version after a case is settled.
JUMP = 1_000


class Contradiction(Exception):
    """The register says otherwise."""


@dataclass
class Held:
    spot: Spot
    version: int
    disputed: bool = False


@dataclass
class DoubleRegister:
    estate: Estate
    faults: AbstractSet[Fault]
    held: dict[str, Held] = field(default_factory=dict)
    lines: dict[str, str] = field(default_factory=dict)
    history: Counter[str] = field(default_factory=Counter)

    def __post_init__(self) -> None:
        self.lines = dict(self.estate.lines)
        self.held = {tag: Held(spot, self.estate.versions[tag]) for tag, spot in self.estate.spots.items()}

    def apply(self, event: Json) -> None:
        if Fault.DISPUTES_ALL in self.faults:
            raise Contradiction
        effects = {"swapped": self._swap, "put": self._put, "found": self._compare}
        if effect := effects.get(event["kind"]):
            effect(event["person"], event["body"])

    def force(self, event: Json) -> None:
        """What a server does that believes the later clock."""
        person, body = event["person"], event["body"]
        if event["kind"] == "swapped" and body["core_in"] in self.held:
            for tag in {self.occupant(body["housing"]), body["core_out"]} & self.held.keys():
                self._move(tag, spot_at(body["put_at"], person))
            self._move(body["core_in"], inside(body["housing"]))
            self._write("swapped")
        elif event["kind"] == "put" and body["core"] in self.held:
            self._move(body["core"], spot_at(body["place"], person))
            self._write("moved")

    def concerned(self, body: Json) -> set[str]:
        named = [body.get(name, "") for name in ("core", "core_in", "core_out")]
        return {tag for tag in (*named, self.occupant(body.get("housing", ""))) if tag in self.held}

    def dispute(self, cores: set[str]) -> None:
        for tag in cores if Fault.MARKS_NO_DISPUTE not in self.faults else ():
            self.held[tag].disputed = True

    def settle(self, places: dict[str, Spot]) -> bool:
        wanted = {spot for spot in places.values() if spot[0] == "housing"}
        pushed = [core for tag, core in self.held.items() if core.spot in wanted and tag not in places]
        if not all(core.disputed for core in pushed):
            return False
        for core in pushed:
            core.spot, core.version = BENCH, core.version + JUMP
        for tag, spot in places.items():
            self._settle_one(self.held[tag], spot)
        return True

    def _settle_one(self, core: Held, spot: Spot) -> None:
        core.spot, core.disputed = spot, False
        if Fault.SETTLES_BY_ONE in self.faults:
            core.version += 1
        elif Fault.KEEPS_VERSION not in self.faults:
            core.version += JUMP

    def occupant(self, housing: str) -> str:
        return next((tag for tag, core in self.held.items() if core.spot == inside(housing)), "")

    def _swap(self, person: str, body: Json) -> None:
        self._must_be_free(body["core_in"], body["core_in_version"], person)
        found = self.occupant(body["housing"])
        if found != body["core_out"] and Fault.LOOKS_AT_NO_CORE_OUT not in self.faults:
            raise Contradiction
        if found and not self.faults & {Fault.LOOKS_AT_NO_CORE_OUT, Fault.LOOKS_AT_NO_OUT_VERSION}:
            self._must_be_known(found, body["core_out_version"])
        self._must_be_settled(found)
        if not body["operating_key_turned"] or (body["line"] and body["line"] not in self.lines):
            raise Contradiction
        self.lines.pop(body["line"] or "", None)
        if found:
            self._move(found, spot_at(body["put_at"], person))
        self._move(body["core_in"], inside(body["housing"]))
        self._write("swapped")

    def _put(self, person: str, body: Json) -> None:
        self._must_be_free(body["core"], body["core_version"], person)
        self._move(body["core"], spot_at(body["place"], person))
        self._write("moved")

    def _compare(self, _person: str, body: Json) -> None:
        if self.occupant(body["housing"]) != body["core"]:
            raise Contradiction

    def _must_be_free(self, tag: str, version: int | None, person: str) -> None:
        core = self.held.get(tag)
        if core is None or core.spot[0] not in OUTSIDE or core.spot[1] not in {"", person}:
            raise Contradiction
        self._must_be_known(tag, version)
        self._must_be_settled(tag)

    def _must_be_known(self, tag: str, version: int | None) -> None:
        trusts = version is None and Fault.TRUSTS_NO_VERSION in self.faults
        is_stale = version != self.held[tag].version and not trusts
        if is_stale and Fault.LOOKS_AT_NO_VERSION not in self.faults:
            raise Contradiction

    def _must_be_settled(self, tag: str) -> None:
        if tag and self.held[tag].disputed and Fault.WORKS_ON_DISPUTED not in self.faults:
            raise Contradiction

    def _move(self, tag: str, spot: Spot) -> None:
        self.held[tag].spot = spot
        self.held[tag].version += 1

    def _write(self, effect: str) -> None:
        self.history[effect] += 2 if Fault.WRITES_TWICE in self.faults else 1
