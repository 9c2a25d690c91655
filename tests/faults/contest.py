"""Many people who want one core in the same moment, over HTTP: one winner for each version, all answered."""

import json
import time
from collections import Counter
from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from datetime import UTC, datetime
from random import Random
from threading import Barrier
from typing import Any
from urllib.parse import urlencode
from uuid import UUID

from tests.faults.hands import FORM, JSON, Line, Wrong

Json = dict[str, Any]
WON, LOST = "won", "lost"
# Told to whoever comes second: on a page with the form once more, and to a tablet as a case.
TOO_LATE = {409, 422}
OUTCOMES = {"applied": WON, "accepted_with_conflict": LOST}


@dataclass
class Contest:
    """One core, and everybody's line, greeted."""

    estate: Json
    port: int

    def __post_init__(self) -> None:
        people = self.estate["people"]
        # Each comes anew: between two rounds the server hangs up on who is silent.
        self.lines = [Line(self.port, dict(each["cookies"]), is_kept_open=False) for each in people]
        for line in self.lines:
            line.greet()
        self._rng = Random(1)

    def by_page(self, version: int) -> list[float]:
        """Seconds of each answer, where all saw the core in this version."""
        place = "bench" if version % 2 else "shelf"
        form = urlencode({"place": place, "version": version})
        path = f"/estate/cores/{self.estate['core']}/move/"

        def move(line: Line) -> str:
            status, text, _ = line.ask("POST", path, form, FORM)
            if status not in {302, *TOO_LATE}:
                raise Wrong(f"status {status}: {text[:300]}")
            return WON if status == 302 else LOST

        return self._all(move)

    def by_tablet(self, version: int) -> list[float]:
        events = [self._event(each["person"], version) for each in self.estate["people"]]
        waiting: Iterator[Json] = iter(events)
        by_line = {id(line): next(waiting) for line in self.lines}

        def put(line: Line) -> str:
            now = datetime.now(UTC).isoformat()
            body = {"device": None, "sent_at": now, "events": [by_line[id(line)]]}
            status, text, _ = line.ask("POST", "/field/events/", json.dumps(body), JSON)
            if status != 200:
                raise Wrong(f"status {status}: {text[:300]}")
            return OUTCOMES[json.loads(text)["answers"][0]["outcome"]]

        return self._all(put)

    def _event(self, person: str, version: int) -> Json:
        return {
            "event_id": str(UUID(int=self._rng.getrandbits(128), version=4)),
            "sequence": 1,
            "kind": "put",
            "claimed_at": datetime.now(UTC).isoformat(),
            "person": person,
            "body": {"core": self.estate["tag"], "core_version": version, "place": "bench"},
        }

    def _all(self, act: Callable[[Line], str]) -> list[float]:
        start = Barrier(len(self.lines))

        def one(line: Line) -> tuple[str, float]:
            start.wait()
            began = time.perf_counter()
            return act(line), time.perf_counter() - began

        with ThreadPoolExecutor(len(self.lines)) as pool:
            told = list(pool.map(one, self.lines))
        found = Counter(outcome for outcome, _ in told)
        if found != {WON: 1, LOST: len(self.lines) - 1}:
            raise Wrong(f"one version had {found}")
        return [seconds for _, seconds in told]
