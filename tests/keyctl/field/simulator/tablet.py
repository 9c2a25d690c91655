"""A plain twin of the app in the browser: the pack as last seen, and an outbox of facts in their order."""

from dataclasses import dataclass, field
from datetime import datetime, timedelta
from random import Random
from uuid import UUID

from tests.keyctl.field.simulator.book import Json, Spot, inside, spot_at


@dataclass
class Pack:
    """What the server tells a tablet: the register, and the number of the tablet's next fact."""

    spots: dict[str, Spot]
    versions: dict[str, int]
    lines: dict[str, str]
    next_sequence: int

    def foresee(self, event: Json) -> None:
        """Lay an own fact over what is known; an exchange and a put add one to each core's version."""
        body = event["body"]
        if event["kind"] == "swapped" and "core_in" in body:
            self._move(body["core_out"], spot_at(body["put_at"], event["person"]))
            self._move(body["core_in"], inside(body["housing"]))
            self.lines.pop(body["line"] or "", None)
        elif event["kind"] == "put" and "core" in body:
            self._move(body["core"], spot_at(body["place"], event["person"]))

    def _move(self, core: str, spot: Spot) -> None:
        if core in self.spots:
            self.spots[core] = spot
            self.versions[core] += 1


@dataclass
class Tablet:
    device: str
    rng: Random
    pack: Pack
    # Who is signed in; nobody once the sign-in expired, and then the outbox only waits.
    person: str | None
    holder: str
    offset: timedelta = timedelta()
    outbox: list[Json] = field(default_factory=list)
    sequence: int = 0
    # What the tablet counts as sent.
    sent: set[str] = field(default_factory=set)

    def write(self, kind: str, body: Json, at: datetime) -> Json:
        self.sequence += 1
        event = {
            "event_id": str(UUID(int=self.rng.getrandbits(128), version=4)),
            "sequence": self.sequence,
            "kind": kind,
            "claimed_at": (at + self.offset).isoformat(),
            "person": self.holder,
            "body": body,
        }
        self.outbox.append(event)
        self.pack.foresee(event)
        return event

    def envelope(self, at: datetime, first: int, most: int) -> Json:
        events = self.outbox[first : first + most]
        return {"device": self.device, "sent_at": (at + self.offset).isoformat(), "events": events}

    def take_answers(self, answers: list[Json]) -> None:
        """Whatever was answered is the server's from now on, however it was answered."""
        told = {answer["event_id"] for answer in answers}
        self.sent |= told
        self.outbox = [event for event in self.outbox if event["event_id"] not in told]

    def lay(self, pack: Pack) -> None:
        """A new pack under what is unsent."""
        self.pack = pack
        self.sequence = max(self.sequence, pack.next_sequence - 1)
        for event in self.outbox:
            pack.foresee(event)

    def wipe(self, pack: Pack) -> list[Json]:
        """Everything on it is gone, the cookie of the device aside; returns the facts that went with it."""
        lost, self.outbox, self.sequence = self.outbox, [], 0
        self.lay(pack)
        return lost
