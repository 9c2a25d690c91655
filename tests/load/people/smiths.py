"""Locksmiths at pages: look a door up, swap its core step by step, put loose cores where they belong."""

from tests.load.people.person import Deed, Person

CHECKS = ("operating_key_turned", "control_key_came_out", "egress_and_latch_tried")


class Smith(Person):
    def deeds(self) -> list[tuple[int, Deed]]:
        return [
            (2, self.first_page),
            (4, self.swap),
            (3, self.move),
            (2, self.look_up),
            (1, self.search),
            (2, self.orders),
        ]

    def look_up(self) -> None:
        page = self.read("/estate/")
        word = self.rng.choice(self.estate["words"])[:4]
        self.line.visit(f"/estate/?q={word}", piece="doors")
        door = self.follow(page, "/estate/doors/")
        if door is not None:
            self.follow(door, self.rng.choice(("/estate/cores/", "/maps/floors/", "/systems/keys/")))

    def orders(self) -> None:
        self.follow(self.read("/orders/"), "/orders/")

    def move(self) -> None:
        """A loose core that colleagues may move as well: the version on the page tells who was first."""
        core = self.rng.choice(self.estate["loose"][self.site])
        page = self.read(f"/estate/cores/{core}/")
        form = page.form("/move/")
        if form is None:
            return
        done = self.line.submit(page, form, place=self.rng.choice(("shelf", "bench")))
        if done.status == 200:
            self.book.done("move a core", done.request, core__moved=1)

    def swap(self) -> None:
        """From the door's page: order, core, exchange with its checks."""
        door = self.rng.choice(self.facts["doors"])
        self.read(f"/estate/doors/{door}/")
        page = self.read(f"/orders/new/swap/?door={door}")
        form = page.form("/orders/new/swap/")
        housings = form.choices.get("housings") if form else None
        if form is None or not housings:
            return
        page = self.line.submit(page, form, housings=housings[:1])
        if page.status != 200 or not page.address.startswith("/orders/lines/"):
            return
        self.book.done("open an order", page.request, order__opened=1)
        self.think()
        self._at_the_door(page.address.partition("?")[0])

    def _at_the_door(self, line: str) -> None:
        page = self.read(line)
        form = page.form("/swap/")
        # What a tablet laid on the shelf is offered as well; its own story tells it alone there.
        offered = form.choices.get("core", []) if form else []
        cores = [core for core in offered if core not in self.estate["tablets_own"]]
        if form is None or not cores:
            return
        page = self.line.submit(page, form, core=self.rng.choice(cores), tag="")
        if page.status != 200 or "step=exchange" not in page.address:
            return
        self.book.done("choose a core", page.request, order__core_chosen=1)
        self.think()
        form = page.form("/swap/")
        if form is None:
            return
        done = self.line.submit(page, form, put_at="shelf", **dict.fromkeys(CHECKS, "on"))
        if done.status == 200:
            self.book.done("swap at a page", done.request, core__swapped=1)
            self.book.mark("lines done", line.rstrip("/").split("/")[-2])
