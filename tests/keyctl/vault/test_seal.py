"""A sealed value opens only where it was sealed."""

import base64
import os

import pytest
from cryptography.hazmat.primitives.ciphers.aead import AESGCM
from pytest_django import Settings

from keyctl.systems.models import KeySymbol
from keyctl.vault import services as vault
from keyctl.vault.errors import BadKey, NoSuchKey, Sealed, Tampered
from keyctl.vault.models import DataKey

SECRET = "3614920"

pytestmark = pytest.mark.django_db


def sealed_symbol() -> KeySymbol:
    symbol = KeySymbol()
    symbol.bitting = vault.seal(symbol, "bitting", SECRET)
    return symbol


def test_it_opens_again() -> None:
    assert vault.unseal(sealed_symbol(), "bitting") == SECRET


def test_the_text_is_not_in_the_sealed_value() -> None:
    assert SECRET.encode() not in sealed_symbol().bitting


def test_the_same_text_is_sealed_differently_every_time() -> None:
    assert sealed_symbol().bitting != sealed_symbol().bitting


@pytest.mark.parametrize("text", ["", "12345", "1234567", "9" * 59])
def test_the_length_does_not_tell_the_number_of_cuts(text: str) -> None:
    assert len(vault.seal(KeySymbol(), "bitting", text)) == len(vault.seal(KeySymbol(), "bitting", SECRET))


def test_it_does_not_open_in_another_row() -> None:
    other = KeySymbol(bitting=sealed_symbol().bitting)
    with pytest.raises(Tampered):
        vault.unseal(other, "bitting")


def test_it_does_not_open_in_another_field() -> None:
    symbol = KeySymbol()
    symbol.bitting = vault.seal(symbol, "design", SECRET)
    with pytest.raises(Tampered):
        vault.unseal(symbol, "bitting")


@pytest.mark.parametrize("place", range(100))
def test_a_changed_byte_is_noticed_wherever_it_is(place: int) -> None:
    symbol = sealed_symbol()
    altered = bytearray(symbol.bitting)
    altered[place % len(altered)] ^= 1 << place % 8
    symbol.bitting = bytes(altered)
    # In the name of the key it names one that is not there.
    with pytest.raises((Tampered, NoSuchKey)):
        vault.unseal(symbol, "bitting")


@pytest.mark.parametrize("value", [b"", b"\x01", b"\x02", b"\x02abcd", b"\x03" + bytes(90), bytes(90)])
def test_what_is_no_sealed_value_is_refused_in_words(value: bytes) -> None:
    with pytest.raises((Tampered, NoSuchKey)):
        vault.unseal(KeySymbol(bitting=value), "bitting")


def test_another_reader_of_the_same_standard_opens_it() -> None:
    """AES-256-GCM as in NIST SP 800-38D, put together here from its parts."""
    symbol = sealed_symbol()
    name = symbol.bitting[1:5].hex()
    row = DataKey.objects.get(name=name)
    about = f"keyctl|data key|{name}|seal".encode()
    outer = base64.urlsafe_b64decode(os.environ["KEYCTL_VAULT_KEY"])
    key = AESGCM(outer).decrypt(row.wrapped[:12], row.wrapped[12:], about)
    place = f"keyctl|systems_keysymbol|{symbol.pk}|bitting|2|{name}".encode()
    framed = AESGCM(key).decrypt(symbol.bitting[5:17], symbol.bitting[17:], place)
    assert framed[4 : 4 + len(SECRET)].decode() == SECRET


def test_without_a_key_it_says_that_it_is_sealed(settings: Settings, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.delenv("KEYCTL_VAULT_KEY")
    settings.VAULT_KEY_FILE = settings.DATA_DIR / "no-such-file"
    with pytest.raises(Sealed, match="Put the key back"):
        sealed_symbol()


def test_a_key_of_the_wrong_length_is_named(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(os.environ, "KEYCTL_VAULT_KEY", "c2hvcnQ=")
    with pytest.raises(BadKey):
        sealed_symbol()


def test_fingerprints_differ_by_scope_and_text() -> None:
    prints = {vault.fingerprint(scope, text) for scope in ("one", "two") for text in ("3614", "3615")}
    assert len(prints) == 4
