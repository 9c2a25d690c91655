"""The key desk: scans onto the tray, one signature; keys come back; reports and lists in between."""

import threading
from random import Random

from tests.load.people.person import Deed, Person
from tests.load.reading import Page

MOST_KEYS = 3
# So often a clerk takes what a colleague has in hand as well.
COLLIDES = 0.05


class Drawer:
    """The keys of one site as hands know them: in the drawer, or out with people who will come back."""

    def __init__(self, serials: list[str]) -> None:
        self.inside, self.out = list(serials), list[str]()
        self._lock = threading.Lock()

    def pick(self, rng: Random, pile: list[str]) -> list[str]:
        with self._lock:
            picked = rng.sample(pile, min(len(pile), rng.randint(1, MOST_KEYS)))
            if rng.random() >= COLLIDES:
                for serial in picked:
                    pile.remove(serial)
            return picked

    def lay(self, serials: list[str], pile: list[str]) -> None:
        with self._lock:
            pile.extend(serial for serial in serials if serial not in pile)


class Clerk(Person):
    @property
    def drawer(self) -> Drawer:
        drawer: Drawer = self.estate["drawers"][self.site]
        return drawer

    def deeds(self) -> list[tuple[int, Deed]]:
        return [
            (5, self.issue),
            (4, self.take_back),
            (1, self.first_page),
            (1, self.search),
            (2, self.lists),
        ]

    def lists(self) -> None:
        page = self.read(self.rng.choice(("/keys/", "/keys/register/", "/keys/cabinets/", "/requests/desk/")))
        self.follow(page, self.rng.choice(("/keys/copies/", "/keys/holders/", "/keys/acts/")))

    def _way(self, way: str) -> Page:
        """The counter, with whatever an earlier try left on it cleared away."""
        page = self.read(f"/desk/sites/{self.site}/{way}/")
        clear = page.form("/clear/")
        return page if clear is None else self.line.submit(page, clear)

    def _scan(self, page: Page, texts: list[str]) -> tuple[dict[str, str], int]:
        """What the last piece says of the list, and how many keys lie on it."""
        form = page.form("/add/")
        known, keys = dict(page.apart), 0
        for text in texts if form else ():
            assert form is not None
            piece = self.line.send_piece(page, form, "tray", text=text)
            if piece.status == 200:
                known, keys = dict(piece.apart), piece.text.count("/leave-out/") // 2
            self.pause(self.rng.uniform(0.5, 1.5))
        return known, keys

    def issue(self) -> None:
        taken = self.drawer.pick(self.rng, self.drawer.inside)
        email, name = self.rng.choice(self.facts["known"])
        page = self._way("issue")
        said, keys = self._scan(page, [email, *taken])
        done = self._finish(page, said, keys, signed_as=name)
        if done is not None:
            self.book.done("hand keys out", done.request, key__handed_out=1)
            self.drawer.lay(taken, self.drawer.out)
        else:
            self.drawer.lay(taken, self.drawer.inside)

    def take_back(self) -> None:
        taken = self.drawer.pick(self.rng, self.drawer.out)
        page = self._way("return")
        form = page.form("/finish/")
        cabinets = [each for each in form.choices.get("cabinet", []) if each] if form else []
        if not (taken and cabinets):
            return
        said, keys = self._scan(page, taken)
        done = self._finish(page, said, keys, cabinet=cabinets[0])
        if done is not None:
            self.book.done("take keys back", done.request, key__taken_back=1)
            self.drawer.lay(taken, self.drawer.inside)
        else:
            self.drawer.lay(taken, self.drawer.out)

    def _finish(self, page: Page, said: dict[str, str], keys: int, **typed: str) -> Page | None:
        form = page.form("/finish/")
        if form is None or not keys:
            return None
        self.think()
        done = self.line.submit(page, form, **(said | typed))
        if done.status != 200 or "done=" not in done.address:
            return None
        self.book.mark("acts at the desk", done.address.partition("done=")[2])
        self.line.visit(f"/desk/acts/{done.address.partition('done=')[2]}/")
        return done
