"""What pages and scripts must not hold, held by reading all of them. The numbers are of the ASVS 5.0.0."""

import json
import re
from html.parser import HTMLParser

from tests.asvs.reading import ROOT, SCRIPTS, TEMPLATES, name_of


class Inline(HTMLParser):
    """Scripts and styles that stand in a page itself, and what runs at an event."""

    def __init__(self) -> None:
        super().__init__()
        self.found: list[str] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        named = dict(attrs)
        if (tag == "script" and "src" not in named) or tag in {"style", "iframe", "object", "embed"}:
            self.found.append(tag)
        self.found += [name for name in named if re.match(r"on[a-z]{3,}$|style$", name)]
        self.found += [
            f"{name}={value}"
            for name, value in attrs
            if name in {"href", "src", "action", "hx-get", "hx-post"}
            and re.match(r"\s*(javascript|data|vbscript):|https?://|//", value or "")
        ]


# An address of another host that a page may name in words, and the frame of what is set on paper.
FOR_PAPER = ("templates/prints/", "templates/labels/print", "templates/emails/")


def test_no_page_holds_a_script_a_style_or_an_address_of_another_host() -> None:
    """1.2.2, 3.4.3, 3.6.1: pages get along with the policy, and load nothing from elsewhere."""
    found = {}
    for file in TEMPLATES:
        if file.suffix == ".html" and not name_of(file).startswith(FOR_PAPER):
            reader = Inline()
            reader.feed(file.read_text(encoding="utf-8"))
            if reader.found:
                found[name_of(file)] = reader.found
    assert found == {}


def test_scripts_show_words_as_words() -> None:
    """3.2.2: text is set as text; the one place that sets marks sets a constant of its own."""
    writing = re.compile(r"\.(innerHTML|outerHTML)\s*=|insertAdjacentHTML|document\.write|\.srcdoc\b")
    found = {name_of(file) for file in SCRIPTS if writing.search(file.read_text())}
    assert found <= {"static/js/field/scan.js"}
    assert re.findall(r"innerHTML = (\w+);", (ROOT / "static/js/field/scan.js").read_text()) == ["PANEL"]


def test_the_library_of_pages_runs_no_words_and_asks_no_other_host() -> None:
    base = (ROOT / "templates" / "base.html").read_text()
    told = re.search(r"name=\"htmx-config\" content='([^']+)'", base)
    assert told is not None
    config = json.loads(told[1])
    assert (config["allowEval"], config["allowScriptTags"], config["selfRequestsOnly"]) == (
        False,
        False,
        True,
    )
    # 14.3.3: no copy of a page in the browser's store.
    assert config["historyCacheSize"] == 0


def test_the_browsers_store_holds_looks_and_places_alone() -> None:
    """14.3.3: by name, all that scripts keep in it; a browser test looks into the field app's database."""
    kept = set[str]()
    for file in SCRIPTS:
        kept |= set(re.findall(r"(?:localStorage|sessionStorage)\.setItem\(([^,]+),", file.read_text()))
    assert kept == {"`keyctl-${name}`", "LOOK", "OFF", "PUT_AT"}


def test_no_script_opens_a_socket_or_a_peer_connection() -> None:
    """4.4, 17: neither WebSocket nor WebRTC. 3.5.6: JSONP needs a script tag that a script makes; one there
    is, and loads the reader of codes from our own files."""
    found = re.compile(r"\b(WebSocket|RTCPeerConnection|EventSource)\b")
    assert [name_of(file) for file in SCRIPTS if found.search(file.read_text())] == []
    made = {name_of(file) for file in SCRIPTS if 'createElement("script")' in file.read_text()}
    assert made == {"static/js/field/scan-reader.js"}


def test_messages_of_other_windows_are_not_heard() -> None:
    """3.5.5: pages hear their own worker and channel of the same origin, never `window`."""
    heard = re.compile(r"(?:window|self|globalThis)\.addEventListener\(\"message\"|window\.onmessage")
    listening = {name_of(file) for file in SCRIPTS if heard.search(file.read_text())}
    assert listening <= {"static/js/field/worker.js"}


def test_scripts_set_no_key_that_was_sent_on_a_prototype() -> None:
    """15.3.6: nothing is merged deeply, and no name that was sent leads to a prototype."""
    merged = r"__proto__|\.prototype\s*\[|Object\.setPrototypeOf|deepMerge"
    wrong = re.compile(merged + r"|\bfor \((?:const|let|var) \w+ in\b")
    assert [name_of(file) for file in SCRIPTS if wrong.search(file.read_text())] == []
