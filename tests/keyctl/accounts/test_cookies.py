"""Cookies: names that a browser guards itself (RFC 6265bis, 4.1.3), and what scripts and other hosts get."""

import json
import os
import subprocess
import sys
from pathlib import Path

import pytest
from django.test import Client

from tests.cast import Cast
from tests.factories import PASSWORD

ROOT = Path(__file__).parents[3]
ASK = """
import json
from django.conf import settings as s
names = [n for n in dir(s) if n.startswith(("SESSION_COOKIE", "CSRF_COOKIE"))]
print(json.dumps({n: getattr(s, n) for n in names}))
"""


def cookie_settings(base_url: str, folder: Path) -> dict[str, object]:
    """As a process of its own has them under that address."""
    own = {"KEYCTL_BASE_URL": base_url, "KEYCTL_SECRET_KEY": "k" * 60, "KEYCTL_DATA_DIR": str(folder)}
    env = {**os.environ, **own, "DJANGO_SETTINGS_MODULE": "keyctl.settings", "PYTHONPATH": str(ROOT)}
    done = subprocess.run(  # noqa: S603 (our own settings, no shell)
        [sys.executable, "-c", ASK], env=env, capture_output=True, check=True, cwd=ROOT
    )
    told: dict[str, object] = json.loads(done.stdout)
    return told


def test_over_tls_the_names_bind_them_to_this_host(tmp_path: Path) -> None:
    told = cookie_settings("https://keys.example", tmp_path)
    for kind in ("SESSION", "CSRF"):
        assert str(told[f"{kind}_COOKIE_NAME"]).startswith("__Host-")
        # What the name demands: a browser takes the cookie under no other facts.
        assert told[f"{kind}_COOKIE_SECURE"] is True
        assert (told[f"{kind}_COOKIE_PATH"], told[f"{kind}_COOKIE_DOMAIN"]) == ("/", None)


def test_on_loopback_they_are_plain(tmp_path: Path) -> None:
    told = cookie_settings("http://127.0.0.1:8000", tmp_path)
    for kind in ("SESSION", "CSRF"):
        assert not str(told[f"{kind}_COOKIE_NAME"]).startswith("__")
        assert told[f"{kind}_COOKIE_SECURE"] is False


@pytest.mark.parametrize("name", ["session", "csrf"])
def test_no_script_reads_them_and_no_other_page_sends_them(client: Client, cast: Cast, name: str) -> None:
    client.post("/account/sign-in/", {"username": "auditor", "password": PASSWORD})
    client.get("/account/me/")
    cookie = client.cookies[name]
    assert (cookie["httponly"], cookie["samesite"]) == (True, "Lax")
