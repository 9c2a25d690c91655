"""The page that shows the API's description, in a real browser under the page's own policy."""

from collections.abc import Iterator
from dataclasses import dataclass, field
from urllib.parse import urlsplit

import pytest
from playwright.sync_api import ConsoleMessage, Page, Playwright
from pytest_django import Settings
from pytest_django.live_server_helper import LiveServer

from tests.browser.conftest import chromium

# A name instead of 127.0.0.1: the viewer treats a local address otherwise than a real one.
NAME = "keyctl.test"


@dataclass
class Visit:
    """A page in a browser, what its console complained of and which hosts it asked."""

    page: Page
    complaints: list[str] = field(default_factory=list)
    hosts: set[str] = field(default_factory=set)

    def __post_init__(self) -> None:
        self.page.on("console", self.note)
        self.page.on("pageerror", lambda error: self.complaints.append(str(error)))
        self.page.on("request", lambda request: self.hosts.add(urlsplit(request.url).hostname or "data"))

    def note(self, message: ConsoleMessage) -> None:
        # Plain HTTP under a name makes a browser pass over this header; nothing on the page is wrong.
        if message.type in {"error", "warning"} and "Cross-Origin-Opener-Policy" not in message.text:
            self.complaints.append(message.text)


@pytest.fixture
def visit(driver: Playwright) -> Iterator[Visit]:
    arguments = ["--no-sandbox", f"--host-resolver-rules=MAP {NAME} 127.0.0.1"]
    browser = driver.chromium.launch(executable_path=chromium(), args=arguments)
    yield Visit(browser.new_page())
    browser.close()


@pytest.fixture
def docs(live_server: LiveServer, settings: Settings) -> str:
    settings.ALLOWED_HOSTS = [NAME]
    return f"http://{NAME}:{urlsplit(live_server.url).port}/api/v1/docs/"


def test_a_browser_shows_it_without_a_violation_and_asks_no_other_host(visit: Visit, docs: str) -> None:
    visit.page.goto(docs)
    visit.page.get_by_text("/api/v1/doors/{id}/openers/").click()
    visit.page.get_by_text("never who holds it").wait_for()
    visit.page.get_by_role("button", name="Authorize").first.click()
    visit.page.get_by_role("dialog").or_(visit.page.locator(".modal-ux")).first.wait_for()
    visit.page.wait_for_timeout(300)
    assert visit.complaints == []
    assert visit.hosts - {"data"} == {NAME}


def test_the_same_browser_does_complain_of_an_inline_style(visit: Visit, docs: str) -> None:
    visit.page.goto(docs)
    visit.page.evaluate("document.body.insertAdjacentHTML('beforeend', '<p style=\"color: red\">x</p>')")
    visit.page.wait_for_timeout(300)
    assert any("Content Security Policy" in complaint for complaint in visit.complaints)
