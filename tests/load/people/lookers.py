"""Officers, auditors and a program: who reads much, starts long work, and takes lists."""

import json
from random import Random
from urllib.parse import quote

from tests.load.line import JSON, path_of
from tests.load.people.person import Deed, Json, Person

OFFICERS = ("/losses/", "/proofs/", "/exposure/", "/requests/", "/orders/", "/estate/", "/security/")
AUDITORS = ("/keys/register/", "/keys/law/", "/exports/", "/counts/", "/orders/", "/jobs/")
FIRST = {
    "/losses/": "/losses/",
    "/proofs/": "/proofs/",
    "/estate/": "/estate/doors/",
    "/orders/": "/orders/",
    "/keys/register/": "/keys/acts/",
    "/counts/": "/counts/",
    "/jobs/": "/jobs/",
}
TABLES = (("/keys/register/", "/exports/tables/register/"), ("/orders/", "/exports/tables/orders/"))
LISTS = ("doors", "housings", "cores", "keys", "key-copies", "holders", "work-orders", "requests", "cabinets")


class Officer(Person):
    def deeds(self) -> list[tuple[int, Deed]]:
        return [(8, self.look), (1, self.first_page), (1, self.search), (2, self.map), (1, self.prove)]

    def look(self) -> None:
        place = self.rng.choice(OFFICERS)
        page = self.read(place)
        if place in FIRST:
            self.follow(page, FIRST[place])

    def map(self) -> None:
        page = self.read(f"/maps/sites/{self.site}/")
        building = self.follow(page, "/maps/buildings/")
        if building is not None:
            self.follow(building, "/maps/floors/")

    def prove(self) -> None:
        """A system of a site: long work that a worker does."""
        page = self.read("/proofs/")
        form = page.form("/proofs/prove/")
        systems = [each for each in form.choices.get("of", []) if each.startswith("system-")] if form else []
        if form is None or not systems:
            return
        done = self.line.submit(page, form, of=self.rng.choice(systems))
        for _ in range(3):
            if done.status == 200 and done.address.startswith("/jobs/"):
                self.read(done.address)


class Auditor(Person):
    def deeds(self) -> list[tuple[int, Deed]]:
        return [(8, self.look), (1, self.first_page), (1, self.search), (1, self.take)]

    def look(self) -> None:
        place = self.rng.choice(AUDITORS)
        page = self.read(place)
        if place in FIRST:
            self.follow(page, FIRST[place])

    def take(self) -> None:
        """A list as a table; a long one is made by a worker."""
        place, address = self.rng.choice(TABLES)
        page = self.read(place)
        form = next((each for each in page.forms if "/exports/tables/" in each.action), None)
        if form is None:
            return
        done = self.line.send(address, form.filled(form=self.rng.choice(("csv", "xlsx"))), came_from=place)
        if done.status == 200 and not done.address.startswith("/jobs/"):
            self.book.done("take a table", done.request, table__taken=1)


class Program(Person):
    """An integration with a token: reads lists page by page, follows the feed, registers people."""

    made = 0
    since = ""

    def begin(self) -> None:
        self.line.headers = {"Authorization": f"Bearer {self.facts['token']}", "Accept": "application/json"}
        self.nexts: dict[str, str] = {}

    def deeds(self) -> list[tuple[int, Deed]]:
        return [(6, self.walk), (3, self.one), (4, self.changes), (2, self.register)]

    def think(self) -> None:
        """A program does not."""
        self.pause(self.rng.uniform(0.2, 1.5))

    def _get(self, path: str) -> Json:
        page = self.line.ask("GET", path, None, {})
        told: Json = json.loads(page.text) if page.status == 200 else {}
        return told

    def walk(self) -> None:
        name = self.rng.choice(LISTS)
        told = self._get(self.nexts.get(name, f"/api/v1/{name}/"))
        following = told.get("next")
        self.nexts[name] = path_of(following) if following else f"/api/v1/{name}/"

    def one(self) -> None:
        rows = self._get("/api/v1/doors/").get("results", [])
        if rows:
            self._get(f"/api/v1/doors/{_one_of(self.rng, rows)}/openers/")

    def changes(self) -> None:
        told = self._get(f"/api/v1/changes/?since={quote(self.since)}" if self.since else "/api/v1/changes/")
        self.since = str(told.get("since", self.since))

    def register(self) -> None:
        self.made += 1
        name = f"{self.estate['mark']} holder {self.made}"
        body = json.dumps({"site": self.site, "name": name})
        head = {"Content-Type": JSON, "Idempotency-Key": f'"{name}"'}
        page = self.line.ask("POST", "/api/v1/holders/", body, head)
        if page.status == 201:
            self.book.done("register a holder", page.request, holder__registered=1)
            self.book.mark("holders", name)


def _one_of(rng: Random, rows: list[Json]) -> str:
    return str(rng.choice(rows)["id"])
