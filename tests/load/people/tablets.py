"""A locksmith with the tablet's app: a pack now and then, swaps kept on the tablet, sent in batches."""

import json
from datetime import UTC, datetime
from typing import Any
from uuid import UUID

from tests.load.line import JSON
from tests.load.people.person import Deed, Json, Person

CHECKS = ("operating_key_turned", "control_key_came_out", "egress_and_latch_tried")
PUT_AT = ("shelf", "bench", "case")


class Tablet(Person):
    has_begun = False

    @property
    def is_settled(self) -> bool:
        """Everything it did was sent and answered."""
        return self.has_begun and not self.unsent

    def begin(self) -> None:
        self.sequence, self.unsent = 0, list[Json]()
        self.has_begun = True
        # Where each core is and its version, after everything that it did.
        self.cores = {tag: (str(spot), int(version)) for tag, (spot, version) in self.facts["cores"].items()}
        self.come_in()
        for name in ("", "sw.js", "words.js", "page-words.json", "manifest.webmanifest"):
            self.line.visit(f"/field/{name}")
        self.pack()

    def deeds(self) -> list[tuple[int, Deed]]:
        return [(6, self.swap), (2, self.note), (2, self.look), (3, self.send), (1, self.pack)]

    def _ask(self, path: str) -> Any:
        page = self.line.ask("GET", path, None, {"Accept": "application/json", "Sec-Fetch-Dest": "empty"})
        return json.loads(page.text) if page.status == 200 else {}

    def pack(self) -> None:
        """The app fetches one only when nothing is unsent."""
        self.send()
        self.line.csrf = self._ask("/field/state/").get("csrf", self.line.csrf)
        told = self._ask("/field/pack/")
        if told:
            self.sequence = max(self.sequence, told["device"]["next_sequence"] - 1)

    def look(self) -> None:
        self._ask(f"/field/lookup/?code={self.rng.choice(list(self.cores))}")

    def swap(self) -> None:
        housing = self.rng.choice(self.facts["housings"])
        core_out = next(tag for tag, (spot, _) in self.cores.items() if spot == housing)
        core_in = self.rng.choice([tag for tag, (spot, _) in self.cores.items() if spot in PUT_AT])
        body: Json = {"line": None, "housing": housing, "put_at": self.rng.choice(PUT_AT), "note": ""}
        body |= {"core_in": core_in, "core_in_version": self.cores[core_in][1]}
        body |= {"core_out": core_out, "core_out_version": self.cores[core_out][1]}
        self._keep("swapped", body | dict.fromkeys(CHECKS, True))
        self.cores[core_in] = (housing, body["core_in_version"] + 1)
        self.cores[core_out] = (body["put_at"], body["core_out_version"] + 1)

    def note(self) -> None:
        """A core is seen in its door, as the register has it."""
        housing = self.rng.choice(self.facts["housings"])
        core = next(tag for tag, (spot, _) in self.cores.items() if spot == housing)
        self._keep("found", {"housing": housing, "core": core})

    def _keep(self, kind: str, body: Json) -> None:
        self.sequence += 1
        self.unsent.append(
            {
                "event_id": str(UUID(int=self.rng.getrandbits(128), version=4)),
                "sequence": self.sequence,
                "kind": kind,
                "claimed_at": datetime.now(UTC).isoformat(),
                "person": self.facts["id"],
                "body": body,
            }
        )

    def send(self) -> None:
        """Whatever has no answer stays, and is sent again: the server knows each by its identifier."""
        if not self.unsent:
            return
        envelope = {"device": self.facts["device"], "sent_at": datetime.now(UTC).isoformat()}
        body = json.dumps(envelope | {"events": self.unsent})
        head = {"Content-Type": JSON, "X-CSRFToken": self.line.csrf, "Sec-Fetch-Dest": "empty"}
        page = self.line.ask("POST", "/field/events/", body, head | {"Accept": "application/json"})
        if page.status != 200:
            return
        answers = json.loads(page.text)["answers"]
        by_id = {event["event_id"]: event for event in self.unsent}
        self.unsent = []
        self._book(page.request, [(by_id[each["event_id"]], each) for each in answers])

    def _book(self, request: str, answered: list[tuple[Json, Json]]) -> None:
        swaps = sum(
            event["kind"] == "swapped" and answer["outcome"] == "applied" for event, answer in answered
        )
        looks = sum(event["kind"] == "found" and answer["outcome"] == "applied" for event, answer in answered)
        self.book.done("a batch of a tablet", request, core__swapped=swaps, field__found=looks)
        for event, answer in answered:
            if answer["outcome"] not in {"applied", "duplicate"}:
                self.book.went_wrong(f"a tablet alone at its doors was answered {answer} for {event}")
            self.book.mark("events of tablets", event["event_id"])
