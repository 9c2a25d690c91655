"""What a request may say, and what is not believed: 4.1, 13.4, 14.2.1, 15.3 and 16.3 of the ASVS."""

import logging
import re
from datetime import UTC, datetime, timedelta

import pytest
from django.test import Client, override_settings
from django.urls import reverse

from keyctl.audit.models import Event
from keyctl.lib.logs import configuration
from tests.cast import Cast
from tests.factories import PASSWORD


@pytest.mark.parametrize(
    "path",
    [
        "/.git/config",
        "/.secrets/vault.key",
        "/.env",
        "/static/",
        "/static/css/",
        "/static/..%2fmanage.py",
        "/static/%2e%2e/manage.py",
        "/static/css/../../manage.py",
        "/keyctl/settings.py",
        "/manage.py",
        "/requirements.txt",
        "/data/keyctl.sqlite3",
    ],
)
def test_no_file_of_the_program_and_no_list_of_files_is_served(path: str, client: Client, db: None) -> None:
    answer = client.get(path)
    assert answer.status_code in {404, 301}
    assert b"DJANGO_SETTINGS_MODULE" not in answer.content
    assert b"Index of" not in answer.content


@pytest.mark.parametrize("method", ["TRACE", "TRACK", "CONNECT", "PROPFIND", "BREW"])
@pytest.mark.parametrize("path", ["/", "/account/sign-in/", "/api/v1/sites/", "/health/live"])
def test_methods_that_nobody_uses_do_nothing(method: str, path: str, client: Client, db: None) -> None:
    answer = client.generic(method, path, headers={"x-secret": "mirror me"})
    assert answer.status_code in {302, 401, 404, 405}
    assert b"mirror me" not in answer.content


def test_an_unknown_host_is_not_answered(client: Client, db: None) -> None:
    assert client.get("/account/sign-in/", headers={"host": "evil.example"}).status_code == 400


def test_who_asks_does_not_say_that_it_was_by_tls(db: None) -> None:
    """Only a proxy that the administrator named may."""
    with override_settings(SECURE_SSL_REDIRECT=True, SECURE_PROXY_SSL_HEADER=None):
        answer = Client().get("/account/sign-in/", headers={"x-forwarded-proto": "https"})
        assert answer.status_code == 301


def test_who_asks_does_not_say_where_they_are(
    cast: Cast, client: Client, caplog: pytest.LogCaptureFixture
) -> None:
    """Without a proxy that the administrator named, what a browser says of its address is nothing."""
    with caplog.at_level(logging.WARNING, "keyctl.accounts"):
        client.post(
            reverse("accounts:sign-in"),
            {"username": "locksmith", "password": "wrong"},
            headers={"x-forwarded-for": "203.0.113.9", "x-real-ip": "203.0.113.9"},
        )
    assert {getattr(each, "address", None) for each in caplog.records if each.name == "keyctl.accounts"} == {
        "127.0.0.1"
    }


def test_a_failed_sign_in_leaves_a_line_without_the_password(
    cast: Cast, client: Client, caplog: pytest.LogCaptureFixture
) -> None:
    with caplog.at_level(logging.INFO):
        client.post(reverse("accounts:sign-in"), {"username": "locksmith", "password": "my secret guess"})
    assert "a sign-in failed" in caplog.text
    assert "my secret guess" not in caplog.text


def test_a_sign_in_stands_in_history_with_its_ways(cast: Cast, client: Client) -> None:
    client.post(reverse("accounts:sign-in"), {"username": "locksmith", "password": PASSWORD})
    event = Event.objects.get(verb="account.signed_in")
    assert event.actor_id == cast.locksmith.pk
    assert "password" in event.sentence


def test_what_a_role_does_not_suffice_for_leaves_a_line(
    cast: Cast, client: Client, caplog: pytest.LogCaptureFixture
) -> None:
    client.force_login(cast.requester)
    with caplog.at_level(logging.INFO):
        assert client.get(reverse("places:list")).status_code == 403
    told = [each for each in caplog.records if each.name == "django.request"]
    assert [(each.levelname, each.status_code) for each in told] == [("WARNING", 403)]  # type: ignore[attr-defined]
    assert "places" in told[0].getMessage()


def test_a_password_in_an_address_is_not_taken(cast: Cast, client: Client) -> None:
    """Nor does a parameter of the address stand in for one of the body."""
    wanted = f"{reverse('accounts:sign-in')}?username=locksmith&password={PASSWORD}"
    client.post(wanted, {"username": "locksmith"})
    client.get(wanted)
    assert client.get(reverse("accounts:me")).status_code == 302


def test_of_a_name_that_is_sent_twice_all_of_the_product_reads_the_same(cast: Cast, client: Client) -> None:
    """The last: whoever adds one to a request gets no other reading of it from another part."""
    body = f"username=requester&password={PASSWORD}&username=locksmith"
    client.post(reverse("accounts:sign-in"), body, content_type="application/x-www-form-urlencoded")
    page = client.get(reverse("accounts:me"))
    assert cast.locksmith.display_name in page.content.decode()


def test_a_form_from_elsewhere_is_refused(cast: Cast) -> None:
    """3.5.1: without the token of the page, and with the origin of another host."""
    client = Client(enforce_csrf_checks=True)
    client.force_login(cast.locksmith)
    assert client.post(reverse("accounts:sign-out")).status_code == 403
    page = client.get(reverse("accounts:me"))
    token = str(page.context["csrf_token"])
    refused = client.post(
        reverse("accounts:sign-out"),
        {"csrfmiddlewaretoken": token},
        headers={"origin": "https://evil.example"},
    )
    assert refused.status_code == 403
    assert client.post(reverse("accounts:sign-out"), {"csrfmiddlewaretoken": token}).status_code == 302


def test_every_page_leads_out(cast: Cast, client: Client) -> None:
    """7.4.4: the frame of every page holds the button, in plain sight."""
    client.force_login(cast.administrator)
    for name in ("home", "places:list", "operations:security", "accounts:me", "jobs:list"):
        page = client.get(reverse(name), follow=True).content.decode()
        assert f'action="{reverse("accounts:sign-out")}"' in page, name


def line(kind: str, words: str, **facts: str) -> str:
    """A record as the product writes it."""
    made = dict(configuration(kind)["formatters"]["plain"])
    formatter: logging.Formatter = made.pop("()")(**made)
    record = logging.LogRecord("keyctl", logging.WARNING, __file__, 1, words, (), None)
    vars(record).update(facts)
    return formatter.format(record)


@pytest.mark.parametrize("kind", ["lines", "json"])
def test_a_name_with_line_ends_forges_no_line(kind: str) -> None:
    """16.4.1: whatever is sent, a line of the log is one line."""
    for end in ("\n", "\r\n", "\r", "\u2028", "\x85", "\x0b"):
        told = line(kind, f"Not Found: /x{end}2026-01-01 forged", path=f"a{end}b")
        assert len(told.splitlines()) == 1, repr(told)


@pytest.mark.parametrize("kind", ["lines", "json"])
def test_times_of_logs_are_in_utc(kind: str) -> None:
    """16.2.2"""
    stamp = re.search(r"20\d\d-\d\d-\d\dT[\d:.]+(Z|\+00:00)", line(kind, "x"))
    assert stamp is not None
    told = datetime.fromisoformat(stamp[0])
    assert abs(datetime.now(UTC) - told) < timedelta(minutes=1)
