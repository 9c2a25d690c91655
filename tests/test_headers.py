"""What every answer tells the browser, whoever gives it: pages, files, redirects, refusals and interfaces.

The values are those that the ASVS 5.0.0 asks for (3.4.1 and 3.4.3 to 3.4.6, 3.4.8, 3.5.8, 14.3.2), and the
names of features those of the W3C's registry of policy-controlled features.
"""

from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

import pytest
from django.db import transaction
from django.test import Client, override_settings
from django.urls import reverse
from pytest_django import DjangoDbBlocker

from keyctl.lib.policy import routes
from keyctl.places.models import Membership
from keyctl.places.roles import Role
from tests.cast import gather

# Answers of every kind: the status that is expected shows that it is that kind.
KINDS = {
    "/account/sign-in/": 200,
    "/places/": 302,
    "/nowhere/": 404,
    "/static/css/base.css": 200,
    "/static/nothing.css": 404,
    "/health/live": 200,
    "/metrics": 200,
    "/field/sw.js": 200,
    "/api/v1/sites/": 401,
    "/api/nowhere/": 404,
    "/api/v1/docs/": 200,
    "/scim/v2/Users": 401,
    "/.well-known/security.txt": 404,
}
WITHOUT_PARAMETER = sorted(
    reverse(name)
    for name, route in routes()
    if not route.pattern.converters and not name.startswith(("api:nowhere", "scim:"))
)


def look(client: Client, path: str, **more: Any) -> Any:
    """Files come as streams: read to the end, so that they are closed."""
    answer: Any = client.get(path, **more)
    if answer.streaming:
        answer.getvalue()
    return answer


def policy(answer: Any, header: str = "Content-Security-Policy") -> dict[str, str]:
    parts = (part.strip().partition(" ") for part in answer[header].split(";"))
    return {name: words for name, _, words in parts}


def held_apart(answer: Any) -> None:
    """What holds for every answer."""
    said = policy(answer)
    assert (
        said["default-src"] == said["object-src"] == said["base-uri"] == said["frame-ancestors"] == "'none'"
    )
    assert "'unsafe-inline'" not in answer["Content-Security-Policy"]
    assert "'unsafe-eval'" not in answer["Content-Security-Policy"]
    assert "*" not in answer["Content-Security-Policy"]
    assert answer["X-Content-Type-Options"] == "nosniff"
    assert answer["Referrer-Policy"] in {"same-origin", "no-referrer"}
    assert answer["Cross-Origin-Opener-Policy"] == "same-origin"
    assert answer["Cross-Origin-Resource-Policy"] == "same-origin"
    assert {"microphone=()", "geolocation=()", "usb=()"} <= set(answer["Permissions-Policy"].split(", "))
    assert "Access-Control-Allow-Origin" not in answer
    assert "Server" not in answer
    assert "X-Powered-By" not in answer


@pytest.mark.parametrize(("path", "status"), KINDS.items())
def test_an_answer_of_every_kind_has_them(path: str, status: int, client: Client, db: None) -> None:
    answer = look(client, path)
    assert answer.status_code == status
    held_apart(answer)
    assert "camera=()" in answer["Permissions-Policy"]


@pytest.fixture(scope="module")
def walked(django_db_setup: None, django_db_blocker: DjangoDbBlocker) -> Iterator[dict[str, Any]]:
    """Every page without a parameter, and an answer of each kind, as somebody in two roles meets them."""
    with django_db_blocker.unblock(), transaction.atomic():
        cast, client = gather(), Client()
        Membership.objects.create(user=cast.administrator, site=cast.north, role=Role.LOCKSMITH)
        client.force_login(cast.administrator)
        yield {path: look(client, path) for path in (*WITHOUT_PARAMETER, *KINDS)}
        transaction.set_rollback(True)


def test_every_page_has_them_and_stays_in_no_cache(walked: dict[str, Any]) -> None:
    assert len(walked) > 70
    for path, answer in walked.items():
        held_apart(answer)
        if answer.headers.get("Content-Type", "").startswith("text/html"):
            assert "no-store" in answer["Cache-Control"], path
            assert answer["X-Frame-Options"] == "DENY"


def test_every_answer_with_words_tells_its_signs(walked: dict[str, Any]) -> None:
    """4.1.1: a type that matches, and UTF-8 where it is text."""
    for path, answer in walked.items():
        kind = answer.headers.get("Content-Type", "").lower()
        if kind.startswith("text/"):
            assert "charset=utf-8" in kind.replace('"', ""), path


def test_only_the_field_app_may_ask_for_the_camera(walked: dict[str, Any]) -> None:
    asks = {path for path, answer in walked.items() if "camera=()" not in answer["Permissions-Policy"]}
    assert asks == {reverse("field:app")}
    assert "camera=(self)" in walked[reverse("field:app")]["Permissions-Policy"]


@pytest.mark.parametrize("method", ["post", "put", "patch", "delete", "trace", "options", "brew"])
def test_no_method_gets_around_them(method: str, client: Client, db: None) -> None:
    for path in ("/places/", "/api/v1/sites/", "/scim/v2/Users", "/health/live"):
        held_apart(client.generic(method.upper(), path))


def test_a_page_that_breaks_has_them_too(db: None, monkeypatch: pytest.MonkeyPatch) -> None:
    def breaks(*_args: object) -> None:
        raise RuntimeError("broken on purpose")

    monkeypatch.setattr("keyctl.operations.views.probes", breaks)
    client = Client(raise_request_exception=False)
    answer = client.get("/health/ready")
    assert answer.status_code == 500
    held_apart(answer)
    assert b"broken on purpose" not in answer.content


def test_another_host_is_told_nothing_of_an_answer(client: Client, db: None) -> None:
    """3.4.2: no origin is let in, whatever it says it is."""
    for path in KINDS:
        answer = look(client, path, headers={"origin": "https://elsewhere.example"})
        assert not [name for name in answer.headers if name.lower().startswith("access-control-")]


@contextmanager
def behind_tls() -> Iterator[Client]:
    """As settings.py makes it of an address that begins with https."""
    year = 365 * 24 * 60 * 60
    with override_settings(
        SECURE_SSL_REDIRECT=True,
        SECURE_HSTS_SECONDS=year,
        SECURE_PROXY_SSL_HEADER=("HTTP_X_FORWARDED_PROTO", "https"),
    ):
        yield Client()


def test_behind_tls_every_answer_asks_for_tls_from_then_on(db: None) -> None:
    with behind_tls() as client:
        for path in KINDS:
            said = look(client, path, secure=True)["Strict-Transport-Security"].split("; ")
            assert said == ["max-age=31536000", "includeSubDomains"], path


def test_people_are_led_to_tls_and_programs_are_refused(db: None) -> None:
    """4.1.2: who sends a token in the open must notice."""
    with behind_tls() as client:
        led = client.get("/account/sign-in/")
        assert led.status_code == 301
        assert led["Location"].startswith("https://")
        for path in ("/api/v1/sites/", "/scim/v2/Users"):
            refused = client.get(path, headers={"authorization": "Bearer kc_x"})
            assert (refused.status_code, refused["Content-Type"]) == (403, "application/problem+json")
            assert client.get(path, secure=True).status_code == 401
