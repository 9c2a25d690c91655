"""Another program that listens, with every fault that one may have. The way out is the product's own; only
the name is looked up here, and the time is short."""

import functools
import ssl
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field, replace
from http.server import BaseHTTPRequestHandler
from pathlib import Path
from typing import Any
from unittest.mock import patch

from standardwebhooks import Webhook

from keyctl.lib import outward
from keyctl.places.models import Site
from keyctl.webhooks.models import AllowedHost, Endpoint, Try
from keyctl.webhooks.services import asking, make_endpoint
from tests.factories import make_user
from tests.keyctl.lib.test_outward import Quiet, certificate

NAME = "hooks.example.edu"
SECONDS = 1.2


@dataclass
class Heard:
    path: str
    headers: dict[str, str]
    body: bytes

    @property
    def id(self) -> str:
        return self.headers["webhook-id"]

    def verified(self, secret: str) -> Any:
        """By the library of the specification's own authors; it raises where the signature does not hold."""
        return Webhook(secret).verify(self.body, self.headers)


@dataclass
class Receiver:
    port: int
    trusted: ssl.SSLContext
    heard: list[Heard] = field(default_factory=list)
    # What is answered at a path, where it is not what the path says.
    mended: set[str] = field(default_factory=set)

    def url(self, path: str = "/good") -> str:
        return f"https://{NAME}:{self.port}{path}"

    def at(self, path: str) -> list[Heard]:
        return [each for each in self.heard if each.path == path]


class Listener(BaseHTTPRequestHandler):
    def do_POST(self) -> None:
        receiver: Receiver = self.server.receiver  # type: ignore[attr-defined]
        body = self.rfile.read(int(self.headers.get("Content-Length") or 0))
        heard = Heard(self.path, {name.lower(): value for name, value in self.headers.items()}, body)
        receiver.heard.append(heard)
        fault = "good" if self.path in receiver.mended else self.path.strip("/")
        getattr(self, fault)()

    def good(self) -> None:
        self._answer(204)

    def broken(self) -> None:
        self._answer(500, b"Traceback:\r\n \x1b[31mout of \xff luck " + b"x" * 9_000)

    def gone(self) -> None:
        self._answer(410)

    def moved(self) -> None:
        self.send_response(302)
        self.send_header("Location", "/good")
        self.send_header("Content-Length", "0")
        self.end_headers()

    def slow(self) -> None:
        """It has taken the message, and says so when nobody waits any more."""
        time.sleep(SECONDS * 1.5)
        self._answer(200)

    def closed(self) -> None:
        self.connection.close()

    def dripping(self) -> None:
        self.send_response(200)
        self.send_header("Content-Length", "100000")
        self.end_headers()
        self._write_on(b"x", pause=0.05)

    def endless(self) -> None:
        self.send_response(500)
        self.end_headers()
        self._write_on(b"x" * 65_536, pause=0)

    def _write_on(self, chunk: bytes, pause: float) -> None:
        try:
            for _ in range(60):
                self.wfile.write(chunk)
                time.sleep(pause)
        except OSError:
            self.close_connection = True

    def _answer(self, status: int, body: bytes = b"") -> None:
        try:
            self.send_response(status)
            self.send_header("Content-Length", str(len(body)))
            self.end_headers()
            self.wfile.write(body)
        except OSError:
            self.close_connection = True

    def log_message(self, *_args: Any) -> None:
        """Nothing on standard error."""


@contextmanager
def listening(folder: Path) -> Iterator[Receiver]:
    """While it listens, what the product sends to its name arrives here."""
    server_side, trusted = certificate(folder, NAME)
    with Quiet(("127.0.0.1", 0), Listener) as server:
        server.socket = server_side.wrap_socket(
            server.socket, server_side=True, do_handshake_on_connect=False
        )
        server.receiver = Receiver(server.server_address[1], trusted)  # type: ignore[attr-defined]
        threading.Thread(target=server.serve_forever, args=(0.01,), daemon=True).start()
        with patch.object(asking, "ask", functools.partial(_ask, trusted)):
            yield server.receiver  # type: ignore[attr-defined]
        server.shutdown()


def _ask(trusted: ssl.SSLContext, url: str, *, rules: outward.Rules, **facts: Any) -> outward.Answer:
    rules = replace(rules, trusted=trusted, seconds=SECONDS)
    return outward.ask(url, rules=rules, resolver=lambda *_: ["127.0.0.1"], **facts)


def allow(site: Site, port: int, name: str = NAME) -> AllowedHost:
    """This machine, which no administrator could allow."""
    return AllowedHost.objects.create(
        site=site, name=name, port=port, network="127.0.0.0/8", made_by=make_user()
    )


def make_listener(actor: Any, site: Site, url: str, *families: str, **facts: Any) -> tuple[Endpoint, str]:
    chosen = list(families or ("places", "cores"))
    name = facts.pop("name", url.rpartition("/")[2])
    return make_endpoint(actor=actor, name=name, url=url, sites=[site], families=chosen)


def tries_of(endpoint: Endpoint) -> list[tuple[int | None, str]]:
    rows = Try.objects.filter(delivery__endpoint=endpoint).order_by("pk")
    return list(rows.values_list("status", "words"))
