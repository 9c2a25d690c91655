"""How it is carried: the proxy's file, the settings that an https address brings, mail and database by TLS.

The figures are those of the ASVS 5.0.0 (12.1 to 12.3, 3.3) and of RFC 6265bis (the prefix `__Host-`).
"""

import json
import os
import re
import ssl
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest
from django.core.exceptions import ImproperlyConfigured
from django.core.mail.backends.smtp import EmailBackend
from gunicorn.config import Config  # type: ignore[import-untyped]
from gunicorn.http.errors import ParseException  # type: ignore[import-untyped]
from gunicorn.http.parser import RequestParser  # type: ignore[import-untyped]

from keyctl.lib.database import from_url
from keyctl.lib.env import address

ROOT = Path(__file__).resolve().parents[2]
PROXY = (ROOT / ".deploy" / "nginx.conf").read_text()
ASKED = """
import json
from keyctl import settings as s
names = [name for name in dir(s) if name.startswith(("SESSION_", "CSRF_", "SECURE_", "X_FRAME"))]
print(json.dumps({name: getattr(s, name) for name in names}))
"""


@pytest.fixture(scope="module")
def secured(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Any]:
    """The settings of an installation whose address begins with https, read by a Python of its own."""
    folder = tmp_path_factory.mktemp("secured")
    environment = os.environ | {
        "KEYCTL_BASE_URL": "https://keys.example.edu",
        "KEYCTL_DATA_DIR": str(folder / "data"),
        "KEYCTL_SECRETS_DIR": str(folder / "secrets"),
    }
    told = subprocess.run(  # noqa: S603 (our own Python and words)
        [sys.executable, "-c", ASKED], cwd=ROOT, env=environment, capture_output=True, text=True, check=True
    )
    found: dict[str, Any] = json.loads(told.stdout)
    return found


def test_cookies_belong_to_this_host_alone_and_to_no_script(secured: dict[str, Any]) -> None:
    for kind in ("SESSION", "CSRF"):
        assert secured[f"{kind}_COOKIE_NAME"].startswith("__Host-")
        assert secured[f"{kind}_COOKIE_SECURE"] is True
        assert secured[f"{kind}_COOKIE_HTTPONLY"] is True
        assert secured[f"{kind}_COOKIE_SAMESITE"] in {"Lax", "Strict"}
        # What the prefix promises: no domain, and the whole host as its path.
        assert secured.get(f"{kind}_COOKIE_DOMAIN") is None
        assert secured.get(f"{kind}_COOKIE_PATH", "/") == "/"


def test_tls_is_kept_for_a_year_and_below_our_name(secured: dict[str, Any]) -> None:
    assert secured["SECURE_HSTS_SECONDS"] >= 365 * 24 * 60 * 60
    assert secured["SECURE_HSTS_INCLUDE_SUBDOMAINS"] is True
    assert secured["SECURE_SSL_REDIRECT"] is True


def test_a_session_ends_the_same_day(secured: dict[str, Any]) -> None:
    """7.3.2, as .deploy/SECURITY.md says: at most twelve hours."""
    assert secured["SESSION_COOKIE_AGE"] <= 12 * 60 * 60


def test_the_proxy_speaks_current_tls_only() -> None:
    assert re.search(r"ssl_protocols TLSv1\.2 TLSv1\.3;", PROXY)
    ciphers = re.search(r"ssl_ciphers ([^;]+);", PROXY)
    assert ciphers is not None
    # All that OpenSSL makes of it has forward secrecy and authenticates what it encrypts.
    context = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
    context.set_ciphers(ciphers[1])
    older = [each for each in context.get_ciphers() if each["protocol"] == "TLSv1.2"]
    assert older
    assert all(each["aead"] and each["kea"] == "kx-ecdhe" for each in older)


def test_the_proxy_sets_what_the_hosts_believe() -> None:
    """4.1.3: what a browser sends under these names is written over."""
    for header in (
        "Host $host",
        "X-Forwarded-Proto https",
        "X-Forwarded-For $remote_addr",
        "X-Request-ID $request_id",
    ):
        assert f"proxy_set_header {header};" in PROXY


def test_the_proxy_leads_people_to_tls_and_refuses_programs() -> None:
    plain = PROXY[PROXY.index("listen 80;") : PROXY.index("listen 443")]
    assert re.search(r"location ~ \^/\(api/v1\|scim\)/ \{\s*return 403;", plain)
    assert "return 301 https://$host$request_uri;" in plain


def test_the_proxy_bounds_what_comes_in() -> None:
    for bound in (
        "client_max_body_size",
        "client_body_timeout",
        "client_header_timeout",
        "limit_req zone=sign_in",
        "limit_conn addresses",
        "large_client_header_buffers",
    ):
        assert bound in PROXY
    assert "server_tokens off;" in PROXY
    assert "autoindex" not in PROXY


def test_mail_goes_to_a_server_that_proves_itself() -> None:
    context = EmailBackend(host="mail.example.edu", use_tls=True).ssl_context
    assert context.verify_mode == ssl.CERT_REQUIRED
    assert context.check_hostname


def test_the_database_can_be_asked_to_prove_itself(tmp_path: Path) -> None:
    url = "postgresql://keyctl:x@database.example.edu/keyctl?sslmode=verify-full&sslrootcert=/etc/ssl/database.pem"
    options = from_url(url, tmp_path)["OPTIONS"]
    assert options == {"sslmode": "verify-full", "sslrootcert": "/etc/ssl/database.pem"}
    with pytest.raises(ImproperlyConfigured, match="service is not known"):
        from_url("postgresql://keyctl:x@database.example.edu/keyctl?service=other", tmp_path)


@pytest.mark.parametrize(
    "wrong", ["security@example.edu", "mailto:a@b.c\nContact: x", "http://example.edu", "javascript:x"]
)
def test_a_contact_that_could_bring_a_line_of_its_own_stops_the_start(
    wrong: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("KEYCTL_SECURITY_CONTACT", wrong)
    with pytest.raises(ImproperlyConfigured, match="KEYCTL_SECURITY_CONTACT"):
        address("KEYCTL_SECURITY_CONTACT")


BEGINNING = b"POST / HTTP/1.1\r\nHost: 127.0.0.1\r\n"
SMUGGLED = [
    b"Content-Length: 5\r\nTransfer-Encoding: chunked\r\n\r\n0\r\n\r\nGET /x",
    b"Content-Length: 5\r\nContent-Length: 6\r\n\r\nabcdef",
    b"Transfer-Encoding: xchunked\r\n\r\n0\r\n\r\n",
    b"X-A: b\r\n c: d\r\n\r\n",
]


@pytest.mark.parametrize("raw", SMUGGLED)
def test_two_lengths_of_one_request_are_refused(raw: bytes) -> None:
    """4.2.1, RFC 9112, 6.1 to 6.3: by the server's own reader of requests, as our unit starts it."""
    requests = RequestParser(Config(), iter([BEGINNING + raw]), ("127.0.0.1", 40000))
    with pytest.raises(ParseException):
        next(requests)
