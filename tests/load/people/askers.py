"""Who asks for keys and looks how far it has come, and who decides."""

from tests.load.people.person import Deed, Person
from tests.load.reading import Form, Page

# Another decision may follow: then the step is approved, and not yet the request.
VERBS = {"approve a request": "request.approved|request.step_approved", "refuse a request": "request.refused"}


class Asker(Person):
    asked = 0

    def deeds(self) -> list[tuple[int, Deed]]:
        return [(3, self.ask), (4, self.look), (1, self.withdraw), (1, self.first_page)]

    def ask(self) -> None:
        page = self.read("/requests/ask/")
        buildings = page.links_to("/requests/ask/")
        buildings = [each for each in buildings if each != "/requests/ask/"]
        page = self.read(self.rng.choice(buildings))
        form = page.form(page.address)
        doors = form.choices.get("doors") if form else None
        if form is None or not doors:
            return
        chosen = self.rng.sample(doors, min(len(doors), self.rng.choice((1, 1, 2))))
        self.line.send_piece(page, form, "preview", doors=chosen, preview="1")
        self.think()
        self._send(page, form, chosen)

    def _send(self, page: Page, form: Form, doors: list[str]) -> None:
        self.asked += 1
        reason = f"{self.estate['mark']} {self.facts['name']} {self.asked}"
        done = self.line.submit(page, form, doors=doors, reason=reason)
        if done.status == 200 and "/ask/" not in done.address:
            self.book.done("ask for a key", done.request, request__asked=1)
            self.book.mark("requests", reason)

    def look(self) -> None:
        self.follow(self.read("/requests/"), "/requests/")

    def withdraw(self) -> None:
        page = self.follow(self.read("/requests/"), "/requests/")
        form = page.form("/withdraw/") if page else None
        if page is None or form is None:
            return
        done = self.line.submit(page, form)
        if done.status == 200:
            self.book.done("withdraw a request", done.request, request__withdrawn=1)


class Decider(Person):
    def deeds(self) -> list[tuple[int, Deed]]:
        return [(6, self.decide), (1, self.first_page), (1, self.search), (1, self.look)]

    def look(self) -> None:
        page = self.read(self.rng.choice(("/estate/", "/orders/", "/requests/decisions/")))
        self.follow(page, self.rng.choice(("/estate/doors/", "/orders/", "/requests/")))

    def decide(self) -> None:
        """The first that waits, as colleagues do too; or any of them."""
        waiting = [each for each in self.read("/requests/").links_to("/requests/") if len(each) > 40]
        if not waiting:
            return
        chosen = waiting[0] if self.rng.random() < 0.3 else self.rng.choice(waiting)
        page = self.read(chosen)
        approve, refuse = page.form("/approve/"), f"{chosen}refuse/"
        if approve is None:
            return
        if approve.choices.get("proposal") and self.rng.random() < 0.75:
            proposal = self.rng.choice(approve.choices["proposal"])
            done = self.line.submit(page, approve, proposal=proposal, note="As agreed.")
            what = "approve a request"
        else:
            fields = approve.filled(note="Say first for what you need it.")
            done, what = self.line.send(refuse, fields, came_from=chosen), "refuse a request"
        if done.status == 200 and done.address == chosen:
            self.book.done(what, done.request, **{VERBS[what]: 1})
