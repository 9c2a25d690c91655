"""A small identity provider of the tests' own: a server on loopback, and tokens signed with RS256 (RFC 7518,
3.3) by ``cryptography`` alone. What it tells, each test decides."""

import base64
import json
import time
from collections.abc import Iterator
from contextlib import contextmanager
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from threading import Thread
from typing import Any
from urllib.parse import parse_qs

from cryptography.hazmat.primitives.asymmetric.padding import PKCS1v15
from cryptography.hazmat.primitives.asymmetric.rsa import RSAPrivateKey, generate_private_key
from cryptography.hazmat.primitives.hashes import SHA256

CLIENT, SECRET = "keyctl-client", "a secret of the client"


def encoded(raw: bytes) -> str:
    return base64.urlsafe_b64encode(raw).rstrip(b"=").decode()


def as_json(facts: Any) -> str:
    return encoded(json.dumps(facts).encode())


class Identity:
    def __init__(self) -> None:
        self.key: RSAPrivateKey = generate_private_key(public_exponent=65537, key_size=2048)
        self.url = ""
        self.forget()

    def forget(self) -> None:
        """What is told as long as a test says nothing else."""
        self.claims: dict[str, Any] = {}
        self.header: dict[str, Any] = {"alg": "RS256", "kid": "k1"}
        self.signs_with: RSAPrivateKey | None = self.key
        self.told: dict[str, Any] = {}
        self.document: dict[str, Any] = {}
        self.asked: list[dict[str, list[str]]] = []

    def configuration(self) -> dict[str, Any]:
        places = {"authorization_endpoint": "authorize", "token_endpoint": "token", "jwks_uri": "keys"}
        named = {name: f"{self.url}/{place}" for name, place in places.items()}
        return {"issuer": self.url, "userinfo_endpoint": f"{self.url}/told"} | named | self.document

    def keys(self) -> dict[str, Any]:
        numbers = self.key.public_key().public_numbers()
        n, e = (encoded(each.to_bytes((each.bit_length() + 7) // 8)) for each in (numbers.n, numbers.e))
        return {"keys": [{"kty": "RSA", "kid": "k1", "use": "sig", "alg": "RS256", "n": n, "e": e}]}

    def token(self) -> str:
        now = int(time.time())
        facts = {"iss": self.url, "aud": CLIENT, "iat": now, "exp": now + 300, "auth_time": now} | self.claims
        said = {name: value for name, value in facts.items() if value is not None}
        signed = f"{as_json(self.header)}.{as_json(said)}"
        by = self.signs_with
        return f"{signed}.{encoded(by.sign(signed.encode(), PKCS1v15(), SHA256())) if by else ''}"


@contextmanager
def served() -> Iterator[Identity]:
    identity = Identity()

    class Handler(BaseHTTPRequestHandler):
        def do_GET(self) -> None:
            pages = {"/keys": identity.keys(), "/told": identity.told}
            self._answer(pages.get(self.path) or identity.configuration())

        def do_POST(self) -> None:
            sent = self.rfile.read(int(self.headers["Content-Length"])).decode()
            identity.asked.append(parse_qs(sent))
            self._answer({"access_token": "a", "token_type": "Bearer", "id_token": identity.token()})

        def _answer(self, facts: Any) -> None:
            body = json.dumps(facts).encode()
            self.send_response(200)
            self.send_header("Content-Type", "application/json")
            self.send_header("Content-Length", str(len(body)))
            self.end_headers()
            self.wfile.write(body)

        def log_message(self, *_words: Any) -> None:
            pass

    server = ThreadingHTTPServer(("127.0.0.1", 0), Handler)
    identity.url = f"http://127.0.0.1:{server.server_port}"
    Thread(target=server.serve_forever, args=(0.05,), daemon=True).start()
    yield identity
    server.shutdown()
    server.server_close()
