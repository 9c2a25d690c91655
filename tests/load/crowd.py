"""Sixty people at once: each a thread, arriving one after the other as a morning brings them."""

import threading
import time
from random import Random

from tests.load.book import Book
from tests.load.people.askers import Asker, Decider
from tests.load.people.clerks import Clerk, Drawer
from tests.load.people.lookers import Auditor, Officer, Program
from tests.load.people.person import Json, Person
from tests.load.people.smiths import Smith
from tests.load.people.tablets import Tablet

KINDS: dict[str, type[Person]] = {
    "tablet": Tablet,
    "locksmith": Smith,
    "desk": Clerk,
    "manager": Decider,
    "officer": Officer,
    "requester": Asker,
    "auditor": Auditor,
    "program": Program,
}
# The sign-in takes sixty tries a minute from one address: an office that comes in at this pace stays below.
ARRIVES_EVERY_S = 1.2
LEAVES_WITHIN_S = 150.0


class Crowd:
    def __init__(self, told: Json, port: int, book: Book, seed: int, pace: float) -> None:
        self.over = threading.Event()
        estate = told | {"pace": pace, "drawers": _drawers(told), "loose": _loose(told)}
        estate["tablets_own"] = {pk for facts in told["people"] for pk in facts.get("its_own", [])}
        self.people = [
            KINDS[facts["kind"]](
                facts, estate, port, book, rng=Random(f"{facts['name']} {seed}"), over=self.over
            )
            for facts in told["people"]
        ]
        # Roles arrive mixed.
        Random(f"morning {seed}").shuffle(self.people)
        self._threads: list[threading.Thread] = []

    def work(self, seconds: float, arrives_every: float = ARRIVES_EVERY_S) -> None:
        """For so long; who waits for an answer at the end still gets it."""
        for nth, person in enumerate(self.people):
            thread = threading.Thread(target=person.work, args=(nth * arrives_every,), daemon=True)
            self._threads.append(thread)
            thread.start()
        self.over.wait(seconds)
        self.go_home()

    def spots(self) -> dict[str, tuple[str, int]]:
        """Where tablets say their cores are, of those that sent everything."""
        tablets = [each for each in self.people if isinstance(each, Tablet) and each.is_settled]
        return {tag: spot for tablet in tablets for tag, spot in tablet.cores.items()}

    def go_home(self) -> None:
        self.over.set()
        deadline = time.monotonic() + LEAVES_WITHIN_S
        for thread in self._threads:
            thread.join(max(0.0, deadline - time.monotonic()))


def _drawers(told: Json) -> dict[str, Drawer]:
    """Colleagues at one desk share the drawer."""
    serials = {facts["site"]: facts["drawer"] for facts in told["people"] if "drawer" in facts}
    return {site: Drawer(drawer) for site, drawer in serials.items()}


def _loose(told: Json) -> dict[str, list[str]]:
    """Loose cores of a site, which all its locksmiths move."""
    found: dict[str, list[str]] = {}
    for facts in told["people"]:
        found.setdefault(facts["site"], []).extend(facts.get("loose", []))
    return found
