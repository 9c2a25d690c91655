"""Somebody at work: signs in once, then does one thing after the other with time to think between."""

import base64
import hashlib
import hmac
import struct
import threading
import time
import traceback
from collections.abc import Callable
from random import Random
from typing import Any

from tests.load.book import Book
from tests.load.line import Line, NoAnswer
from tests.load.reading import Page

Json = dict[str, Any]
Deed = Callable[[], None]
# Seconds between two looks at the screen: from a glance to reading.
SHORTEST_THOUGHT, LONGEST_THOUGHT = 2.0, 12.0
SIGN_IN, SECOND = "/account/sign-in/", "/account/sign-in/second-factor/"
MOST_TRIES, WAITS_S = 5, 20.0


class Left(Exception):
    """The day is over."""


def code_of(secret: str, moment: float) -> str:
    """The six digits of an app for codes (RFC 6238 over RFC 4226, SHA-1, half a minute)."""
    key = base64.b32decode(secret + "=" * (-len(secret) % 8))
    digest = hmac.new(key, struct.pack(">Q", int(moment) // 30), hashlib.sha1).digest()
    place = digest[-1] & 15
    number: int = struct.unpack(">I", digest[place : place + 4])[0]
    return f"{(number & 0x7FFFFFFF) % 1_000_000:06}"


class Person:
    """Roles say what they do in ``deeds``: each with how often, against the others."""

    def __init__(
        self, facts: Json, estate: Json, port: int, book: Book, *, rng: Random, over: threading.Event
    ) -> None:
        self.facts, self.estate, self.book, self.rng, self.over = facts, estate, book, rng, over
        self.line = Line(port, book, dict(facts.get("cookies", {})))
        self.pace = float(estate["pace"])

    @property
    def site(self) -> str:
        return str(self.facts["site"])

    def deeds(self) -> list[tuple[int, Deed]]:
        raise NotImplementedError

    def work(self, begins_after: float) -> None:
        try:
            if self.over.wait(begins_after):
                return
            self.begin()
            while True:
                weights, deeds = zip(*self.deeds(), strict=True)
                self._do(self.rng.choices(deeds, weights)[0])
                self.think()
        except Left:
            return
        except Exception:
            self.book.went_wrong(f"the driver itself, {self.facts['name']}: {traceback.format_exc()}")

    def _do(self, deed: Deed) -> None:
        try:
            deed()
        except NoAnswer:
            self.think()

    def begin(self) -> None:
        self.come_in()

    def come_in(self) -> None:
        """Whoever is turned away at the door waits and tries again; that it happened stands in the book."""
        for _ in range(MOST_TRIES):
            try:
                if self.sign_in():
                    return
            except NoAnswer:
                pass
            self.pause(WAITS_S)
        raise ValueError(f"{self.facts['name']} does not come in")

    def think(self) -> None:
        self.pause(self.rng.uniform(SHORTEST_THOUGHT, LONGEST_THOUGHT))

    def pause(self, seconds: float) -> None:
        if self.over.wait(seconds * self.pace):
            raise Left

    def sign_in(self) -> bool:
        page = self.line.visit(SIGN_IN)
        form = page.form(SIGN_IN)
        if form is None:
            return False
        page = self.line.submit(page, form, username=self.facts["name"], password=self.facts["password"])
        if second := page.form(SECOND):
            page = self.line.submit(page, second, code=code_of(self.facts["secret"], time.time()))
        if page.address.startswith(SIGN_IN):
            return False
        self.book.done("sign in", page.request, account__signed_in=1)
        return True

    def read(self, path: str, *, piece: str | None = None) -> Page:
        """A page and the time to read it."""
        page = self.line.visit(path, piece=piece)
        self.think()
        return page

    def follow(self, page: Page, beginning: str, ending: str = "/") -> Page | None:
        """One of the links that lead on, if there is any."""
        found = [link for link in page.links_to(beginning, ending) if link != beginning]
        return self.read(self.rng.choice(found)) if found else None

    def first_page(self) -> None:
        """What stands on the first page of the day, and one thing of it."""
        page = self.read("/")
        self.follow(page, self.rng.choice(("/orders/", "/keys/copies/", "/requests/", "/estate/")))

    def search(self) -> None:
        """While typing the field shows what fits; then the page of all."""
        word = self.rng.choice(self.estate["words"])
        self.line.visit(f"/search/?q={word[: max(3, len(word) // 2)]}", piece="spine-hits")
        self.read(f"/search/?q={word}")
