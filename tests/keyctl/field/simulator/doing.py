"""What people do with their hands, and what they write of it."""

from dataclasses import dataclass
from datetime import datetime
from random import Random
from uuid import UUID

from tests.keyctl.field.simulator.book import OUTSIDE, Book, Estate, Json, spot_at
from tests.keyctl.field.simulator.referee import Referee
from tests.keyctl.field.simulator.tablet import Tablet

KINDS = {"swapped": 5, "put": 4, "found": 1, "unreached": 0.5, "noted": 0.6, "malformed": 0.5}

# How often a swap is told with every check made.
TRIED = {"mixed": 0.92, "tangle": 0.7, "loss": 0.95, "calm": 1}


@dataclass
class Doing:
    rng: Random
    estate: Estate
    book: Book
    referee: Referee

    def act(self, tablet: Tablet, at: datetime) -> None:
        kind = self.rng.choices(list(KINDS), list(KINDS.values()))[0]
        body: Json | None = getattr(self, f"_{kind}")(tablet)
        if body is None:
            return
        if kind == "malformed":
            kind = body.pop("kind")
            self.referee.malformed.add(self._write(tablet, kind, body, at))
        else:
            self._write(tablet, kind, body, at)

    def make_up(self, tablet: Tablet, at: datetime) -> None:
        """A fact that is none, from a tablet in wrong hands."""
        core = self.rng.choice(sorted(self.estate.spots))
        body = {"core": core, "core_version": tablet.pack.versions.get(core), "place": "gone"}
        self.referee.made_up.add(self._write(tablet, "put", body, at))

    def by_page(self, person: str) -> None:
        """A page shows the register: whoever holds something else in the hand does nothing with it there."""
        if self.rng.random() < 0.5:
            self._put_by_page(person)
        else:
            self._swap_by_page(person)

    def _put_by_page(self, person: str) -> None:
        register = self.referee.server.register()
        cores = [tag for tag in self.book.in_reach(person) if tag in register]
        if not cores:
            return
        core, place = self.rng.choice(cores), self.rng.choice(OUTSIDE)
        if register[core].spot == self.book.spots[core] and self.referee.server.put(person, core, place):
            self.book.spots[core] = spot_at(place, person)
            self.referee.effects["moved"] += 1

    def _swap_by_page(self, person: str) -> None:
        lines = sorted(self.estate.lines.items())
        register = self.referee.server.register()
        cores = [tag for tag in self.book.in_reach(person) if tag in register]
        if not lines or not cores:
            return
        line, housing = self.rng.choice(lines)
        core_in, core_out = self.rng.choice(cores), self.book.in_housing(housing)
        seen = [tag for tag, row in register.items() if row.spot == ("housing", housing)]
        if seen != [core_out][: bool(core_out)] or register[core_in].spot != self.book.spots[core_in]:
            return
        place = self.rng.choice(OUTSIDE)
        if self.referee.server.swap(person, line, core_in, core_out, place):
            self.book.swap(housing, core_in, spot_at(place, person))
            self.referee.effects["swapped"] += 1

    def _write(self, tablet: Tablet, kind: str, body: Json, at: datetime) -> str:
        event = tablet.write(kind, body, at)
        self.referee.written[event["event_id"]] = event
        return str(event["event_id"])

    # Bodies; what moves a core moves it in the book first

    def _swapped(self, tablet: Tablet) -> Json | None:
        cores = self.book.in_reach(tablet.holder)
        if not cores:
            return None
        housing, core_in = self.rng.choice(self.estate.housings), self.rng.choice(cores)
        place = self.rng.choice(OUTSIDE)
        tried = self.rng.random() < TRIED[self.estate.mood]
        lines = [line for line, at in tablet.pack.lines.items() if at == housing]
        core_out = self.book.swap(housing, core_in, spot_at(place, tablet.holder))
        return {
            "line": self.rng.choice(lines) if lines else None,
            "housing": housing,
            "core_in": core_in,
            "core_in_version": tablet.pack.versions.get(core_in),
            "core_out": core_out,
            "core_out_version": tablet.pack.versions.get(core_out),
            "put_at": place,
            "operating_key_turned": tried,
            "control_key_came_out": True,
            "egress_and_latch_tried": True,
            "note": "",
        }

    def _put(self, tablet: Tablet) -> Json | None:
        cores = self.book.in_reach(tablet.holder)
        if not cores:
            return None
        core = self.rng.choice(cores)
        place = self.rng.choices([*OUTSIDE, "gone"], [3, 3, 3, 0.5])[0]
        self.book.spots[core] = spot_at(place, tablet.holder)
        return {"core": core, "core_version": tablet.pack.versions.get(core), "place": place}

    def _found(self, _tablet: Tablet) -> Json:
        housing = self.rng.choice(self.estate.housings)
        return {"housing": housing, "core": self.book.in_housing(housing)}

    def _unreached(self, tablet: Tablet) -> Json | None:
        if not tablet.pack.lines or self.estate.calm:
            return None
        return {"line": self.rng.choice(sorted(tablet.pack.lines)), "reason": "A lecture was on."}

    def _noted(self, _tablet: Tablet) -> Json:
        return {"door": None, "line": None, "text": f"Remark {self.rng.randrange(1000)}"}

    def _malformed(self, _tablet: Tablet) -> Json:
        return self.rng.choice(
            [
                {"kind": "teleported", "core": str(UUID(int=self.rng.getrandbits(128)))},
                {"kind": "put", "place": "shelf"},
                {"kind": "swapped", "line": None, "put_at": "shelf"},
            ]
        )
