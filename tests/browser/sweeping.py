"""Chromium, answered by the tests' own client: a page with all that it asks for, and no server beside it.

What is measured is what the product sends: the answer of the view with its headers, so that the policy of
contents holds, and the static files that it names. Bodies are counted as they are sent, not compressed.
"""

import mimetypes
import re
from dataclasses import dataclass, field
from functools import cache
from pathlib import Path
from typing import Any
from urllib.parse import urlsplit

from django.contrib.staticfiles import finders
from playwright.sync_api import Page, Route, ViewportSize

from tests.browser.axe import COLOURS, EVERYTHING, findings
from tests.browser.conftest import NEXT_PICTURE, PHONE, TABLET
from tests.matrix.asking import Asker

# Browsers trust it like TLS, so passkeys and workers are there as for people.
HOST = "http://localhost"
STATIC = "/static/"
ICONS = "/static/icons/"
# Others' work, pinned and as it came: htmx, and the reader of codes of the app on the tablet.
VENDORED = "/static/vendor/"
MOST_KB = 120
# Half of the tablet: what is left of it at 200 % zoom (WCAG 2.2, 1.4.4 and 1.4.10).
ZOOMED = ViewportSize(width=TABLET["width"] // 2, height=TABLET["height"] // 2)
TWICE_AS_LARGE = "document.documentElement.style.fontSize = '200%'"
SIDEWAYS = "document.documentElement.scrollWidth - window.innerWidth"
# What a gloved finger misses.
SMALL_CONTROLS = """[...document.querySelectorAll('main :is(button, select, a.button, input)')]
  .filter(it => !['checkbox', 'radio', 'hidden'].includes(it.type))
  .filter(it => it.checkVisibility() && it.offsetHeight < 47 && !it.closest('[aria-hidden="true"]'))
  .map(it => `lower than a finger: ${it.outerHTML.slice(0, 80)}`)"""
WRONG_OF_A_PAGE = """() => {
  const all = [...document.querySelectorAll("*")];
  const ids = all.map((it) => it.id).filter(Boolean);
  const isInline = (it) => it.matches("style, script:not([src]), [style]")
    || it.getAttributeNames().some((name) => name.startsWith("on"));
  const heads = document.querySelectorAll("h1");
  return [
    ...ids.filter((id, place) => ids.indexOf(id) !== place).map((id) => `twice the id ${id}`),
    ...all.filter(isInline).map((it) => `inline: ${it.outerHTML.slice(0, 80)}`),
    ...(heads.length === 1 && heads[0].textContent.trim() ? [] : [`${heads.length} headings of the page`]),
    ...(document.title.trim() ? [] : ["no title"]),
    ...(document.documentElement.lang ? [] : ["no language"]),
  ];
}"""


@dataclass
class Sweep:
    """One page: what is wrong with it, what it is called, and what it weighs by the paths it asked for."""

    faults: list[str] = field(default_factory=list)
    title: str = ""
    weights: dict[str, int] = field(default_factory=dict)

    @property
    def bytes(self) -> int:
        return sum(size for path, size in self.weights.items() if not path.startswith(VENDORED))


@cache
def static_file(path: str) -> tuple[bytes, str]:
    found = finders.find(path.removeprefix(STATIC))
    assert isinstance(found, str), f"{path} is no static file"
    return Path(found).read_bytes(), mimetypes.guess_type(path)[0] or "application/octet-stream"


def made_scripts(answer: Any) -> list[str]:
    """Scripts of a page that are no files: who is signed in gets them."""
    named = re.findall(r'<script[^>]* src="(/[^"]+)"', answer.content.decode())
    return [each for each in named if not each.startswith(STATIC)]


class Sweeper:
    def __init__(self, page: Page, asker: Asker) -> None:
        self.page, self.asker = page, asker
        self.who = ""
        self.kept: dict[str, Any] = {}
        self.now = Sweep()
        page.route("**/*", self._answer)
        page.on("console", lambda message: self._note(message.type, message.text))
        page.on("pageerror", lambda error: self.now.faults.append(f"script: {error}"))

    def _note(self, kind: str, text: str) -> None:
        if kind == "error":
            self.now.faults.append(f"console: {text}")

    def _answer(self, route: Route) -> None:
        request = route.request
        if not request.url.startswith(f"{HOST}/"):
            self.now.faults.append(f"leaves the host: {request.url}")
            route.abort()
            return
        path = request.url.removeprefix(HOST)
        if path.startswith(STATIC) and not finders.find(urlsplit(path).path.removeprefix(STATIC)):
            self.now.faults.append(f"names a file that is not there: {path}")
            route.fulfill(status=404)
            return
        if path.startswith(STATIC):
            body, kind = static_file(urlsplit(path).path)
            headers = {"Content-Type": kind}
        else:
            answer = self._asked(path, request.headers)
            body, headers = b"".join(answer) if answer.streaming else answer.content, dict(answer.headers)
        # Pictures are what a page shows, and come when they are in sight; its icons belong to the frame.
        if request.resource_type != "image" or path.startswith(ICONS):
            self.now.weights[path] = len(body)
        route.fulfill(status=200, headers=headers, body=body)

    def _asked(self, path: str, headers: dict[str, str]) -> Any:
        """What the browser asks for by itself comes over a connection that knows no session of the test."""
        if answer := self.kept.get(path):
            return answer
        self.asker.become(self.who)
        ours = {name: value for name, value in headers.items() if name.startswith("hx-")}
        return self.asker.client.get(path, headers=ours)

    def sweep(self, who: str, path: str, answer: Any, *, most: int = MOST_KB) -> Sweep:
        """The page that the answer is, in both themes and at each width."""
        self.who, self.now = who, Sweep()
        self.kept = {path: answer} | {script: self._asked(script, {}) for script in made_scripts(answer)}
        self.page.set_viewport_size(TABLET)
        self.page.emulate_media(color_scheme="light")
        self.page.goto(HOST + path)
        self.page.wait_for_load_state("networkidle" if b'hx-trigger="load' in answer.content else "load")
        self.now.title = self.page.title()
        self.now.faults += self.page.evaluate(WRONG_OF_A_PAGE)
        self.now.faults += self.page.evaluate(SMALL_CONTROLS)
        self.now.faults += findings(self.page, EVERYTHING)
        self.page.emulate_media(color_scheme="dark")
        self.now.faults += [f"dark: {fault}" for fault in findings(self.page, COLOURS)]
        self._widths()
        self._weigh(most)
        return self.now

    def _widths(self) -> None:
        for words, size in (("at 390 px", PHONE), ("at 200 % zoom", ZOOMED)):
            self.page.set_viewport_size(size)
            self._sticks_out(words)
        self.page.set_viewport_size(TABLET)
        self.page.evaluate(TWICE_AS_LARGE)
        self._sticks_out("with text twice as large")

    def _sticks_out(self, words: str) -> None:
        self.page.evaluate(NEXT_PICTURE)
        if (out := self.page.evaluate(SIDEWAYS)) > 0:
            self.now.faults.append(f"{out} px stick out {words}")

    def _weigh(self, most: int) -> None:
        """Whether the browser has drawn its icon yet is its own affair."""
        icons = "all => all.map(it => new URL(it.href).pathname)"
        for path in self.page.eval_on_selector_all("link[rel~=icon]", icons):
            self.now.weights[path] = len(static_file(path)[0])
        if self.now.bytes > most * 1024:
            heaviest = sorted(self.now.weights.items(), key=lambda each: -each[1])[:4]
            self.now.faults.append(f"{self.now.bytes / 1024:.0f} KB on first load: {heaviest}")
