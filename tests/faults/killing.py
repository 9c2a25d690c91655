"""Kill, start again, look: what was answered is there with the same answer, and nothing is half done."""

import subprocess
import sys
import threading
import time
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, field
from pathlib import Path
from random import Random

from tests.faults.hands import Hand, Wrong, hands_of
from tests.faults.looking import Seen, looking_at
from tests.faults.serving import ROOT, Ground

VERIFIER = ROOT / "keyctl" / "audit" / "verifier.py"
TABLETS, BENCHES, DOORS, SPARES = 6, 2, 2, 2
LATEST_KILL_S = 0.16
# The whole history is read again after so many kills, and after the last.
HISTORY_EVERY = 25


@dataclass
class Tally:
    kills: int = 0
    answered: int = 0
    # Done, and the answer never arrived.
    unheard: int = 0
    seconds: dict[str, float] = field(default_factory=dict)
    exported: int = 0

    def __str__(self) -> str:
        spent = ", ".join(f"{name} {seconds:.1f} s" for name, seconds in self.seconds.items())
        return (
            f"{self.kills} kills, {self.answered} acts answered, none lost; {self.unheard} done whose answer "
            f"was cut off; {self.exported} entries of history verified ({spent})"
        )


class KillLoop:
    def __init__(self, ground: Ground, seed: int, *, migrated: bool = False) -> None:
        self.ground, self.rng, self.tally = ground, Random(seed), Tally()
        estate = ground.run(
            "estate:make", tablets=TABLETS, doors=DOORS, spares=SPARES, benches=BENCHES, migrated=migrated
        )
        self.durability = ground.run("looking_in:durability")
        self.key = ground.run("looking_in:sign")
        ground.serve()
        self.hands: list[Hand] = hands_of(estate, ground.port, seed)

    def run(self, times: int, on_kill: Callable[[int], None] = lambda _nth: None) -> Tally:
        with ThreadPoolExecutor(len(self.hands)) as pool:
            for nth in range(1, times + 1):
                self._timed("at work", lambda: self._work_and_kill(pool))
                on_kill(nth)
                self._timed("start", self.ground.serve)
                self._timed("first answer", lambda: self._each(pool, lambda hand: hand.line.greet()))
                self._timed("look", self._look)
                self._timed("again", lambda: self._each(pool, lambda hand: hand.take_up(self.there)))
                if nth % HISTORY_EVERY == 0 or nth == times:
                    self._timed("history", self._check_history)
        self.tally.answered = sum(hand.answered for hand in self.hands)
        self._look_after_all()
        for hand in self.hands:
            hand.line.hang_up()
        return self.tally

    def _timed(self, name: str, work: Callable[[], None]) -> None:
        began = time.perf_counter()
        work()
        spent = self.tally.seconds.get(name, 0.0)
        self.tally.seconds[name] = spent + time.perf_counter() - began

    def _each(self, pool: ThreadPoolExecutor, act: Callable[[Hand], None]) -> None:
        list(pool.map(act, self.hands))

    def _work_and_kill(self, pool: ThreadPoolExecutor) -> None:
        timer = threading.Timer(self.rng.uniform(0, LATEST_KILL_S), self.ground.kill)
        timer.start()
        try:
            self._each(pool, lambda hand: hand.work_until_cut())
        finally:
            timer.join()
        self.tally.kills += 1

    def _seen(self) -> Seen:
        with looking_at(self.ground.database, self.ground.database_url) as look:
            seen = look.seen()
        if seen.faults:
            raise Wrong("; ".join(seen.faults))
        return seen

    def _look(self) -> None:
        """Before anything is sent again: each hand's cores are where its answers say, or one whole act on."""
        self.there = self._seen().spots
        for hand in self.hands:
            have = {tag: self.there[tag] for tag in hand.spots}
            foreseen = hand.spots | hand.unanswered()
            if have not in (hand.spots, foreseen):
                raise Wrong(f"the book says {hand.spots}, or {foreseen}, and there is {have}")
            self.tally.unheard += have != hand.spots

    def _look_after_all(self) -> None:
        """Nothing is open any more: book and database say the same, act by act."""
        seen = self._seen()
        book = {tag: spot for hand in self.hands for tag, spot in hand.spots.items()}
        if seen.spots != book or seen.swaps + seen.moves != self.tally.answered:
            raise Wrong(f"{self.tally.answered} acts in the book, {seen.swaps + seen.moves} in history")
        for hand in self.hands:
            # While the history was read the server may have closed a connection on which nobody asked.
            hand.line.hang_up()
            hand.repeat_everything()

    def _check_history(self) -> None:
        """By the product, and by the file that needs no product, on an export and with its checkpoints."""
        if found := self.ground.run("looking_in:history"):
            raise Wrong(f"check_history: {found[:5]}")
        file = self.ground.folder / "history.jsonl"
        self.tally.exported = self.ground.run("looking_in:export", file=str(file))
        verify(file, self.ground.folder / "checkpoints", self.key)
        self.ground.run("looking_in:sign")


def verify(history: Path, checkpoints: Path, key: str) -> None:
    command = [
        sys.executable,
        "-I",
        str(VERIFIER),
        str(history),
        "--checkpoints",
        str(checkpoints),
        "--key",
        key,
    ]
    said = subprocess.run(command, capture_output=True, text=True, check=False)  # noqa: S603 (own Python)
    if said.returncode or said.stdout.strip() != "Nothing is wrong.":
        raise Wrong(f"verifier: {said.stdout[:1000]} {said.stderr[-500:]}")
