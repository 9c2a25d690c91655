"""A real Chromium against a real server with the invented estate."""

import os
import random
import shutil
import sqlite3
from collections.abc import Callable, Iterator
from contextlib import closing, contextmanager
from pathlib import Path
from random import Random
from typing import Any, Protocol
from unittest.mock import patch

import pytest
from django.core.management import call_command
from django.db import connection
from playwright.sync_api import (
    Browser,
    BrowserContext,
    Error,
    Page,
    Playwright,
    Request,
    ViewportSize,
    expect,
    sync_playwright,
)
from pytest_django import Settings

from keyctl.accounts.models import User
from tests.factories import PASSWORD

# Playwright's own loop runs in this thread; the tests' database access beside it is not asynchronous.
os.environ["DJANGO_ALLOW_ASYNC_UNSAFE"] = "1"

TABLET: ViewportSize = {"width": 1180, "height": 820}
PHONE: ViewportSize = {"width": 390, "height": 844}
# Serials, tags and numbers of the estate are drawn from this, so that a test meets the same keys in each run.
SEED = int(os.environ.get("KEYCTL_ESTATE_SEED", "1"))
# Only a failure waits so long: with ten others at work on two cores a first page took over half a minute.
PATIENCE = 60_000
expect.set_options(timeout=PATIENCE)
# Machines are shared: a browser that was not answered in time, or broke off, is tried once more, and the
# summary names the test. What a page shows wrongly, or does not show (`expect`), fails at once.
UNLUCKY = [r"Timeout \d+ms exceeded", "Target crashed", "browser has been closed"]
NEXT_PICTURE = "() => new Promise(drawn => requestAnimationFrame(() => setTimeout(drawn)))"
FLAGS = ["--no-sandbox", "--disable-gpu", "--disable-background-networking", "--disable-component-update"]


class LiveServer(Protocol):
    url: str


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    here = Path(__file__).parent
    for item in items:
        if here in item.path.parents:
            item.add_marker(pytest.mark.browser)
            item.add_marker(pytest.mark.flaky(reruns=1, only_rerun=UNLUCKY))


def chromium() -> str:
    """Where the browser is. Without one its tests are skipped, and fail under CI."""
    program = shutil.which("chromium")
    if program is None:
        missing = pytest.fail if os.environ.get("KEYCTL_CI") else pytest.skip
        missing("Chromium is not installed: apt-get install chromium")
    return str(program)


@pytest.fixture(scope="session")
def driver() -> Iterator[Playwright]:
    """One for all tests of a process: a second one would find the loop of the first."""
    with sync_playwright() as playwright:
        yield playwright


@pytest.fixture(scope="session")
def browser(driver: Playwright) -> Iterator[Browser]:
    opened = driver.chromium.launch(executable_path=chromium(), args=FLAGS)
    yield opened
    opened.close()


@pytest.fixture(scope="session")
def kept_estate(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Where the invented estate is kept once it is built: building it takes ten times as long as copying."""
    return tmp_path_factory.mktemp("estate") / "estate.sqlite3"


@pytest.fixture
def estate(transactional_db: None, settings: Settings, tmp_path: Path, kept_estate: Path) -> None:
    """The invented estate, where everybody has the tests' password."""
    settings.DATA_DIR = tmp_path
    if kept_estate.exists():
        copy_database(kept_estate, inwards=True)
        return
    with (tmp_path / "printed.txt").open("w") as out, drawn_from(SEED):
        call_command("demo", no_serve=True, stdout=out)
    for user in User.objects.all():
        user.set_password(PASSWORD)
        user.save(update_fields=["password"])
    if connection.vendor == "sqlite":
        copy_database(kept_estate, inwards=False)


@contextmanager
def drawn_from(seed: int) -> Iterator[None]:
    """What the system would draw at random comes from a seed."""
    draw = Random(seed).randbytes
    with patch.object(os, "urandom", draw), patch.object(random, "_urandom", draw):
        yield


def copy_database(file: Path, *, inwards: bool) -> None:
    connection.ensure_connection()
    with closing(sqlite3.connect(file)) as kept:
        first, second = (kept, connection.connection) if inwards else (connection.connection, kept)
        first.backup(second)


class Tablet:
    """A page with what a test wants to know of it besides its contents."""

    def __init__(self, page: Page, url: str) -> None:
        self.page, self.url = page, url
        self.complaints: list[str] = []
        self.pending: set[Request] = set()
        page.on("console", lambda message: self._note(message.type, message.text))
        page.on("pageerror", lambda error: self.complaints.append(str(error)))
        page.on("request", self._ask)
        page.on("requestfinished", self._have)
        page.on("requestfailed", self._have)

    def _note(self, kind: str, text: str) -> None:
        if kind == "error":
            self.complaints.append(text)

    def _ask(self, request: Request) -> None:
        self.pending.add(request)
        if not request.url.startswith((self.url, "data:", "blob:")):
            self.complaints.append(f"a request leaves the host: {request.url}")

    def go(self, path: str) -> None:
        try:
            self.page.goto(self.url + path)
        except Error as error:
            # The page of a job opens itself anew when the job is done, perhaps in this very moment.
            if "interrupted by another navigation" not in error.message:
                raise
            self.page.goto(self.url + path)

    def _have(self, request: Request) -> None:
        self.pending.discard(request)

    def wait_until_quiet(self) -> None:
        """Until what the page asks for is there and drawn; "networkidle" takes half a second more."""
        while not self._has_drawn() or self.pending:
            self.page.wait_for_load_state()

    def _has_drawn(self) -> bool:
        try:
            self.page.evaluate(NEXT_PICTURE)
        except Error as error:
            # It went on to the page that an act leads to while it was drawing.
            if "context was destroyed" not in error.message:
                raise
            return False
        return True

    def sign_in(self, username: str) -> None:
        self.go("/account/sign-in/")
        self.page.get_by_label("Username").fill(username)
        self.page.get_by_label("Password").fill(PASSWORD)
        self._leave_by("Sign in")

    def sign_out(self) -> None:
        self._leave_by("Sign out")

    def _leave_by(self, button: str) -> None:
        """And wait for the page it leads to: going on at once would cut the answer off."""
        with self.page.expect_navigation():
            self.page.get_by_role("button", name=button, exact=True).click()


@pytest.fixture
def open_tablet(browser: Browser, live_server: LiveServer) -> Iterator[Callable[..., Tablet]]:
    contexts: list[BrowserContext] = []

    def open_one(**facts: Any) -> Tablet:
        context = browser.new_context(**({"viewport": TABLET} | facts))
        context.set_default_timeout(PATIENCE)
        contexts.append(context)
        return Tablet(context.new_page(), live_server.url)

    yield open_one
    for context in contexts:
        context.close()


@pytest.fixture
def tablet(open_tablet: Callable[..., Tablet]) -> Tablet:
    return open_tablet()
