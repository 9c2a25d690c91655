"""A browser without a screen: cookies, forms, redirects; every answer is timed and judged."""

import time
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from http.client import HTTPConnection, HTTPException, HTTPMessage
from urllib.parse import urlencode, urljoin, urlsplit
from uuid import uuid4

from tests.load.book import CONFLICT, UNPROCESSABLE, Book, kind_of
from tests.load.reading import Form, Page

ANSWERS_WITHIN_S = 60
MOST_REDIRECTS = 5
# One office behind one address, as a proxy in front would tell it.
OFFICE = "192.0.2.10"
FORM, JSON = "application/x-www-form-urlencoded", "application/json"
FINE = {200, 201, 204, 302, 303}
TURNED_DOWN = {CONFLICT, UNPROCESSABLE}


class NoAnswer(Exception):
    """The connection ended, or nothing came for a minute."""


@dataclass
class Line:
    port: int
    book: Book
    cookies: dict[str, str] = field(default_factory=dict)
    headers: dict[str, str] = field(default_factory=dict)
    csrf: str = ""

    def visit(self, path: str, *, piece: str | None = None) -> Page:
        """A page by its link; a piece as HTMX asks for it, by the name of its place."""
        return self._follow("GET", path, None, self._as_piece(path, piece))

    def submit(self, page: Page, form: Form, **typed: str | list[str]) -> Page:
        """A form of the page as the browser sends it; the answer is the page it leads to."""
        address = urljoin(page.address, form.action) if form.action else page.address
        return self.send(address, form.filled(**typed), came_from=page.address)

    def send(self, address: str, fields: Iterable[tuple[str, str]], *, came_from: str = "/") -> Page:
        return self._post(address, fields, came_from, {})

    def send_piece(self, page: Page, form: Form, target: str, **typed: str | list[str]) -> Page:
        address = urljoin(page.address, form.action) if form.action else page.address
        return self._post(address, form.filled(**typed), page.address, self._as_piece(page.address, target))

    def _post(
        self, address: str, fields: Iterable[tuple[str, str]], came_from: str, extra: Mapping[str, str]
    ) -> Page:
        said = {"Content-Type": FORM, "Referer": f"http://127.0.0.1:{self.port}{came_from}"}
        return self._follow("POST", address, urlencode(list(fields)), said | dict(extra))

    def _as_piece(self, address: str, target: str | None) -> dict[str, str]:
        if target is None:
            return {}
        here = f"http://127.0.0.1:{self.port}{address}"
        return {"HX-Request": "true", "HX-Target": target, "HX-Current-URL": here}

    def _follow(self, method: str, path: str, body: str | None, extra: Mapping[str, str]) -> Page:
        """``request`` of the page is the number of the first: the one that wrote."""
        page = self.ask(method, path, body, extra)
        first = page.request
        for _ in range(MOST_REDIRECTS):
            place = page.headers.get("location") or page.headers.get("hx-redirect")
            if not place:
                break
            page = self.ask("GET", urljoin(page.address, place), None, {})
        page.request = first
        return page

    def ask(self, method: str, path: str, body: str | None, extra: Mapping[str, str]) -> Page:
        """One request on a connection of its own, as a proxy makes it."""
        kind = kind_of(method, path, is_piece="HX-Request" in extra)
        number = uuid4().hex
        began = time.perf_counter()
        try:
            status, said, text = self._exchange(method, path, body, self._told(number) | dict(extra))
        except (OSError, HTTPException) as error:
            self.book.never_answered(kind, number, repr(error))
            raise NoAnswer from error
        self.book.answered(kind, number, status, time.perf_counter() - began)
        page = Page(status, path, text, number, {name.lower(): value for name, value in said.items()})
        self._judge(kind, page)
        return page

    def _exchange(
        self, method: str, path: str, body: str | None, headers: Mapping[str, str]
    ) -> tuple[int, HTTPMessage, str]:
        wire = HTTPConnection("127.0.0.1", self.port, timeout=ANSWERS_WITHIN_S)
        try:
            wire.request(method, path, body, dict(headers))
            answer = wire.getresponse()
            text = answer.read().decode(errors="replace")
        finally:
            wire.close()
        self._keep(answer.headers.get_all("Set-Cookie") or [])
        return answer.status, answer.headers, text

    def _told(self, number: str) -> dict[str, str]:
        headers = {"Accept": "text/html", "X-Request-ID": number, "X-Forwarded-For": OFFICE} | self.headers
        headers |= {"X-Forwarded-Proto": "http", "Connection": "close"}
        if self.cookies:
            headers["Cookie"] = "; ".join(f"{name}={value}" for name, value in self.cookies.items())
        return headers

    def _keep(self, told: list[str]) -> None:
        for each in told:
            name, _, value = each.partition(";")[0].partition("=")
            self.cookies[name] = value

    def _judge(self, kind: str, page: Page) -> None:
        if page.status in TURNED_DOWN:
            self.book.turned_down(kind, page.status)
        elif page.status not in FINE:
            self.book.went_wrong(f"{kind}: status {page.status} for {page.address} ({page.request})")


def path_of(address: str) -> str:
    """An address of a program's answer, as a path of ours."""
    parts = urlsplit(address)
    return parts.path + (f"?{parts.query}" if parts.query else "")
