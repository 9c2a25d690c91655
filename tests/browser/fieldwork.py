"""A round of doors for a tablet, and what a hand does on it: name the tablet, swap, look at what it holds."""

import re
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from playwright.sync_api import BrowserContext, Locator, Page, expect

from keyctl.cores.models import Core
from keyctl.orders import services as orders
from keyctl.orders.models import OrderLine, WorkOrder
from keyctl.places.models import Door, Housing
from keyctl.systems.models import KeySymbol, KeySystem
from keyctl.systems.services.sealed import bitting_of
from keyctl.vault import services as vault
from tests import factories
from tests.browser.conftest import Tablet
from tests.cast import Cast, gather

# Everything that a script of the page can have left on the tablet, as one text.
HELD = """async () => {
  const promised = (it) => new Promise((done, fail) => {
    it.onsuccess = () => done(it.result);
    it.onerror = fail;
  });
  const held = [JSON.stringify(localStorage), JSON.stringify(sessionStorage), document.cookie];
  for (const { name } of await indexedDB.databases()) {
    const base = await promised(indexedDB.open(name));
    for (const store of base.objectStoreNames) {
      const rows = base.transaction(store).objectStore(store);
      held.push(JSON.stringify(await promised(rows.getAllKeys())));
      held.push(JSON.stringify(await promised(rows.getAll())));
    }
    base.close();
  }
  for (const name of await caches.keys()) {
    const cache = await caches.open(name);
    for (const request of await cache.keys()) {
      const bytes = await (await cache.match(request)).arrayBuffer();
      held.push(request.url, new TextDecoder("latin1").decode(bytes));
    }
  }
  return held.join("\\n");
}"""

# Waiting by the page's own means: its policy lets nobody evaluate a text again and again.
IS_KEPT = """async () => {
  const { serviceWorker } = navigator;
  while (!serviceWorker.controller) await new Promise((goOn) => setTimeout(goOn, 20));
}"""

CACHED = """async () => {
  const held = {};
  for (const name of await caches.keys()) {
    held[name] = (await (await caches.open(name)).keys()).map((it) => new URL(it.url).pathname).sort();
  }
  return held;
}"""


@dataclass
class Round:
    """An order to swap the cores of some doors, each with a planned core from the shelf."""

    cast: Cast
    system: KeySystem
    order: WorkOrder
    inside: list[Core]
    spares: list[Core]

    @property
    def lines(self) -> list[OrderLine]:
        return list(self.order.lines.order_by("ordinal"))

    @property
    def doors(self) -> list[Door]:
        return [housing.door for housing in self.housings]

    @property
    def housings(self) -> list[Housing]:
        return [line.housing for line in self.lines if line.housing]

    def secrets(self) -> list[str]:
        """Each bitting of the system and the pins of each core, as they would be written."""
        bittings = [bitting_of(symbol) for symbol in KeySymbol.objects.filter(system=self.system)]
        return [*bittings, *(vault.unseal(core, "pinning") for core in (*self.inside, *self.spares))]


def lay_out(doors: int, **facts: Any) -> Round:
    cast = gather()
    site, actor = cast.north, cast.locksmith
    system = factories.make_system(site, actor=actor)
    floor = factories.make_floor(site)
    cores = [factories.make_core(actor=actor, site=site, system=system) for _ in range(2 * doors)]
    housings = [
        factories.make_housing(door=factories.make_door(floor=floor, number=f"{nth:02}", **facts))
        for nth in range(1, doors + 1)
    ]
    inside = [factories.install(core, housing) for core, housing in zip(cores[:doors], housings, strict=True)]
    order = orders.open_swap_order(actor=actor, site=site, title="New tenants", housings=housings)
    for line, core in zip(order.lines.order_by("ordinal"), cores[doors:], strict=True):
        orders.choose_core(actor=actor, line=line, core=core)
    return Round(cast, system, order, inside, cores[doors:])


class Hand:
    """What a locksmith does with the app."""

    def __init__(self, tablet: Tablet, page: Page | None = None) -> None:
        self.tablet = tablet
        self.page = page or tablet.page

    @property
    def context(self) -> BrowserContext:
        return self.page.context

    def start(self, person: str = "locksmith") -> "Hand":
        """Sign in, name the tablet, and wait until it would start without a network."""
        self.sign_in(person)
        self.open("#/settings")
        self.page.get_by_label("Name of this tablet").fill("Tablet 3")
        self.page.get_by_role("button", name="Name this tablet").click()
        expect(self.page.get_by_role("heading", name="Orders", exact=True)).to_be_visible()
        self.page.evaluate(IS_KEPT)
        return self

    def sign_in(self, person: str = "locksmith") -> None:
        self.tablet.go("/account/sign-in/?next=/field/")
        self.fill_sign_in(person)

    def fill_sign_in(self, person: str = "locksmith") -> None:
        self.page.get_by_label("Username").fill(person)
        self.page.get_by_label("Password").fill(factories.PASSWORD)
        self.page.get_by_role("button", name="Sign in", exact=True).click()
        expect(self.page.get_by_role("heading", name="Orders", exact=True)).to_be_visible()

    def sign_out(self) -> Locator:
        """As far as the question."""
        self.open("#/settings")
        self.page.get_by_role("button", name="Sign out").click()
        return self.page.get_by_role("dialog")

    def open(self, hash_: str) -> None:
        self.page.evaluate("hash => { window.location.hash = hash }", hash_)

    def open_swap(self, line: OrderLine) -> None:
        self.open(f"#/swap/{line.pk}")

    def choose(self, question: str, answer: str) -> None:
        self.page.get_by_role("group", name=re.compile(question)).get_by_label(answer).check()

    def check_all(self) -> None:
        for box in self.page.get_by_role("checkbox").all():
            box.check()

    def swap(self, line: OrderLine) -> None:
        """As planned: the planned core in, the register's core out, into the case."""
        assert line.core
        assert line.housing
        self.open_swap(line)
        self.choose("goes in", str(line.core))
        self.choose("came out", str(Core.objects.get(housing=line.housing)))
        self.check_all()
        self.page.get_by_role("button", name="The swap is done").click()
        expect(self.page.get_by_role("heading", name=line.housing.door.number, exact=True)).to_be_visible()

    def send(self) -> None:
        self.open("#/outbox")
        self.page.get_by_role("button", name="Send now").click()

    def sees(self, words: str) -> None:
        expect(self.page.locator("[data-unsent]")).to_contain_text(words)

    def held(self) -> str:
        text: str = self.page.evaluate(HELD)
        return text

    def cached(self) -> dict[str, list[str]]:
        names: dict[str, list[str]] = self.page.evaluate(CACHED)
        return names


def open_hand(open_tablet: Callable[..., Tablet], **facts: Any) -> Hand:
    return Hand(open_tablet(**facts)).start()
