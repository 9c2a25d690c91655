"""What a password may and must be: 6.2.1, and 6.2.4 to 6.2.12 of the ASVS 5.0.0, and 11.4.2."""

import gzip
from datetime import timedelta
from html.parser import HTMLParser
from pathlib import Path

import django.contrib.auth
import pytest
from django.contrib.auth import get_user_model
from django.contrib.auth.hashers import get_hasher
from django.contrib.auth.password_validation import validate_password
from django.core.exceptions import ValidationError
from django.test import Client, override_settings
from django.urls import reverse
from django.utils import timezone
from pytest_django import Settings

from keyctl import settings as product
from keyctl.accounts.models import User
from tests.cast import Cast
from tests.factories import PASSWORD, make_user

SCRIPTS = Path(__file__).resolve().parents[2] / "static" / "js"


def is_taken(password: str) -> bool:
    try:
        validate_password(password, User(username="ada.byron", display_name="Ada Byron"))
    except ValidationError:
        return False
    return True


def test_eleven_signs_are_too_few_and_twelve_suffice() -> None:
    assert not is_taken("qvxzjwkphtm")
    assert is_taken("qvxzjwkphtmb")


@pytest.mark.parametrize(
    "password",
    [
        "correct horse battery staple",
        "überfährt ønsker žlutý",
        "nothing but small letters here",
        "ALLCAPITALSNOTHINGELSE",
        "x🔑" * 8,
        "  spaces at both ends  ",
        "k7" * 32,
        "long" + "er" * 90 + " still",
    ],
)
def test_any_signs_do_and_as_many_as_one_likes(password: str, db: None) -> None:
    """No rule about kinds of signs; 64 and more are taken, and count to the last one."""
    assert is_taken(password)
    user = make_user("whoever")
    user.set_password(password)
    assert user.check_password(password)
    assert not user.check_password(password[:-1])
    assert not user.check_password(password.swapcase())
    assert not user.check_password(password.strip() + "!")


def common_passwords() -> list[str]:
    """The list that the framework carries: the most frequent of published breaches, 20,000 of them."""
    file = Path(django.contrib.auth.__file__).parent / "common-passwords.txt.gz"
    return gzip.decompress(file.read_bytes()).decode().split("\n")


def test_what_breaches_showed_is_refused() -> None:
    """All of the list that is long enough to be refused for this and nothing else."""
    common = common_passwords()
    assert len(common) > 3000
    long_enough = [password for password in common if len(password) >= 12]
    assert len(long_enough) > 50
    assert [password for password in long_enough if is_taken(password)] == []


@pytest.mark.parametrize(
    "password",
    [
        "keyctl-keyctl-1",
        "Keyctl2026Keyctl!",
        "locksmith.12345",
        "keys.example.edu",
        "NorthCampus-2026",
        "ada.byron.ada",
    ],
)
def test_words_of_the_house_make_no_password(password: str) -> None:
    with override_settings(BASE_URL="https://keys.example.edu", PASSWORD_WORDS=["northcampus"]):
        assert not is_taken(password)
        assert is_taken(f"{password} and seven green herons")


class Fields(HTMLParser):
    def __init__(self) -> None:
        super().__init__()
        self.fields: list[dict[str, str | None]] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        named = dict(attrs)
        if tag == "input" and "password" in (named.get("name") or ""):
            self.fields.append(named)


def test_fields_hide_what_is_typed_and_let_a_password_manager_fill_them(cast: Cast, client: Client) -> None:
    pages = [client.get(reverse("accounts:sign-in"))]
    client.force_login(cast.requester)
    pages.append(client.get(reverse("accounts:me")))
    reader = Fields()
    for page in pages:
        reader.feed(page.content.decode())
    assert len(reader.fields) >= 4
    for field in reader.fields:
        assert field["type"] == "password"
        assert field["autocomplete"] in {"current-password", "new-password"}
        assert "maxlength" not in field or int(field["maxlength"] or 0) >= 64
        assert not {name for name in field if name.startswith("on")}


def test_no_script_keeps_anybody_from_pasting() -> None:
    listening = [file.name for file in SCRIPTS.rglob("*.js") if '"paste"' in file.read_text()]
    # The desk takes many pasted lines as many scans.
    assert listening in ([], ["scanning.js"])


def test_a_password_of_long_ago_still_lets_in(client: Client, db: None) -> None:
    """No rotation for its own sake."""
    user = make_user("early")
    User.objects.filter(pk=user.pk).update(joined_at=timezone.now() - timedelta(days=4000))
    client.post(reverse("accounts:sign-in"), {"username": "early", "password": PASSWORD})
    assert client.get(reverse("accounts:me")).status_code == 200


def test_passwords_are_kept_by_argon2id_with_enough_of_everything(settings: Settings) -> None:
    """RFC 9106's second recommended option asks for 64 MiB; its kind must be the mixed one."""
    settings.PASSWORD_HASHERS = product.PASSWORD_HASHERS
    stored = get_hasher("default").encode("a long enough password", "saltsaltsalt")
    algorithm, kind, _, costs, *_ = stored.split("$")
    memory, rounds, _ = (int(part.split("=")[1]) for part in costs.split(","))
    assert (algorithm, kind) == ("argon2", "argon2id")
    assert memory >= 64 * 1024
    assert rounds >= 2


def test_nobody_is_there_before_somebody_is_made(db: None) -> None:
    assert get_user_model().objects.count() == 0


def test_codes_are_long_enough_not_to_be_guessed(client: Client, db: None) -> None:
    """6.5.4 asks for 20 bits of a code, 7.2.3 for 128 of a session."""
    assert product.MFA_RECOVERY_CODE_DIGITS * 3.32 >= 20
    client.force_login(make_user("whoever"))
    keys = {client.cookies[product.SESSION_COOKIE_NAME].value}
    for _ in range(20):
        client.force_login(make_user())
        keys.add(client.cookies[product.SESSION_COOKIE_NAME].value)
    assert len(keys) == 21
    # 32 signs of 36 are 165 bits.
    assert all(len(key) >= 32 for key in keys)
    assert len(set("".join(keys))) == 36
