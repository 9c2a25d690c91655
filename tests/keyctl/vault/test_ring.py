"""Data keys: which seals, which only opens, and what a change of the outer key leaves as it was."""

import base64
import os
from collections.abc import Iterator
from pathlib import Path

import pytest
from cryptography.hazmat.primitives.ciphers.aead import AESGCM
from pytest_django import DjangoAssertNumQueries, Settings

from keyctl.lib.errors import Refused
from keyctl.systems.models import KeySymbol
from keyctl.vault import outer, ring
from keyctl.vault import services as vault
from keyctl.vault.errors import AnotherKey, BadKey, NoSuchKey, Tampered
from keyctl.vault.models import DataKey
from tests.cast import Cast
from tests.factories import make_job

SECRET = "3614920"

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def forgetful() -> Iterator[None]:
    """What a test changed on the ring is undone with its transaction; memory must not hold it longer."""
    ring.forget()
    yield
    ring.forget()


@pytest.fixture
def before_data_keys() -> None:
    """An installation as it was when the outer key sealed everything itself."""
    DataKey.objects.all().delete()
    ring.forget()


def sealed() -> KeySymbol:
    symbol = KeySymbol()
    symbol.bitting = vault.seal(symbol, "bitting", SECRET)
    return symbol


def use_outer(monkeypatch: pytest.MonkeyPatch, key: bytes) -> None:
    monkeypatch.setenv("KEYCTL_VAULT_KEY", base64.urlsafe_b64encode(key).decode())
    ring.forget()


def test_the_next_key_seals_and_the_one_before_still_opens() -> None:
    old = sealed()
    name = ring.make_next_key()
    ring.forget()
    new = sealed()
    assert vault.key_of(new.bitting) == name != vault.key_of(old.bitting)
    assert vault.unseal(old, "bitting") == vault.unseal(new, "bitting") == SECRET


def test_no_data_key_stands_open_in_the_database() -> None:
    symbol = sealed()
    opened = ring.key_named(vault.key_of(symbol.bitting))
    assert len(opened) == 32
    assert all(opened not in bytes(row.wrapped) for row in DataKey.objects.all())


@pytest.mark.usefixtures("before_data_keys")
def test_what_the_outer_key_sealed_itself_still_opens_after_the_first_keys() -> None:
    """Built here from its parts as the version before wrote it."""
    symbol = KeySymbol()
    key, nonce = outer.outer_key(), os.urandom(12)
    framed = (len(SECRET).to_bytes(4, "big") + SECRET.encode()).ljust(64, b"\0")
    place = f"keyctl|systems_keysymbol|{symbol.pk}|bitting|1".encode()
    symbol.bitting = b"\x01" + nonce + AESGCM(key).encrypt(nonce, framed, place)
    assert vault.unseal(symbol, "bitting") == SECRET
    ring.make_first_keys()
    ring.forget()
    assert vault.unseal(symbol, "bitting") == SECRET
    assert vault.key_of(symbol.bitting) == ring.LEGACY


@pytest.mark.usefixtures("before_data_keys")
def test_before_the_first_key_values_are_sealed_as_they_were() -> None:
    symbol = sealed()
    assert vault.key_of(symbol.bitting) == ring.LEGACY
    assert vault.unseal(symbol, "bitting") == SECRET


def test_the_first_keys_are_made_once() -> None:
    names = set(DataKey.objects.values_list("name", flat=True))
    assert ring.make_first_keys() is False
    assert set(DataKey.objects.values_list("name", flat=True)) == names


class TestAnotherOuterKey:
    NEW = bytes(range(32))

    def test_everything_opens_by_the_new_one_and_digests_stay(self, monkeypatch: pytest.MonkeyPatch) -> None:
        old, digest = sealed(), vault.fingerprint("one", SECRET)
        assert ring.wrap_for(self.NEW) == DataKey.objects.count() // 2
        assert vault.unseal(old, "bitting") == SECRET
        use_outer(monkeypatch, self.NEW)
        assert vault.unseal(old, "bitting") == SECRET
        assert vault.fingerprint("one", SECRET) == digest
        assert ring.forget_other_wraps() == DataKey.objects.count()
        ring.forget()
        assert vault.unseal(old, "bitting") == SECRET
        assert vault.unseal(sealed(), "bitting") == SECRET

    def test_wrapping_twice_adds_nothing(self) -> None:
        ring.wrap_for(self.NEW)
        assert ring.wrap_for(self.NEW) == 0

    def test_a_key_that_wraps_nothing_here_seals_nothing(self, monkeypatch: pytest.MonkeyPatch) -> None:
        old = sealed()
        use_outer(monkeypatch, self.NEW)
        with pytest.raises(AnotherKey):
            sealed()
        with pytest.raises(AnotherKey):
            vault.fingerprint("one", SECRET)
        with pytest.raises(NoSuchKey):
            vault.unseal(old, "bitting")

    def test_no_data_key_is_changed_while_the_outer_one_is(self) -> None:
        ring.wrap_for(self.NEW)
        with pytest.raises(Refused, match="rewrap --finish"):
            ring.make_next_key()

    def test_old_wraps_are_kept_while_the_new_ones_lack_a_key(self, monkeypatch: pytest.MonkeyPatch) -> None:
        ring.wrap_for(self.NEW)
        name = ring.current()
        use_outer(monkeypatch, self.NEW)
        DataKey.objects.filter(name=name, wrapped_by=outer.name_of(self.NEW)).delete()
        with pytest.raises(NoSuchKey):
            ring.forget_other_wraps()

    def test_an_altered_wrap_is_named(self) -> None:
        row = DataKey.objects.get(name=ring.current())
        wrapped = bytearray(row.wrapped)
        wrapped[20] ^= 1
        DataKey.objects.filter(pk=row.pk).update(wrapped=bytes(wrapped))
        ring.forget()
        with pytest.raises(Tampered, match=f"data key {row.name}"):
            sealed()


def test_digests_need_the_same_outer_key(monkeypatch: pytest.MonkeyPatch) -> None:
    use_outer(monkeypatch, os.urandom(32))
    with pytest.raises(AnotherKey):
        vault.fingerprint("systems", SECRET)


@pytest.mark.usefixtures("before_data_keys")
def test_an_installation_that_sealed_nothing_yet_gets_fresh_keys() -> None:
    KeySymbol.objects.all().delete()
    assert ring.make_first_keys()
    assert ring.make_first_keys() is False
    ring.forget()
    assert [str(key) for key in DataKey.objects.all()] == [
        f"data key {key.name}" for key in DataKey.objects.all()
    ]
    assert not DataKey.objects.filter(name=ring.LEGACY).exists()


def test_no_key_is_named_as_the_one_from_before(monkeypatch: pytest.MonkeyPatch) -> None:
    """The name that stands for the outer key itself is drawn again."""
    drawn = iter([bytes(4), b"abcd"])
    with monkeypatch.context() as patch:
        patch.setattr(os, "urandom", lambda _size: next(drawn))
        assert ring._new_name() == b"abcd".hex()


def test_a_key_that_is_no_base64_is_named(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("KEYCTL_VAULT_KEY", "a")
    with pytest.raises(BadKey):
        outer.outer_key()


def test_whether_it_is_sealed_is_told_by_the_key_alone(
    monkeypatch: pytest.MonkeyPatch, settings: Settings, tmp_path: Path
) -> None:
    assert not vault.is_sealed()
    monkeypatch.delenv("KEYCTL_VAULT_KEY")
    settings.VAULT_KEY_FILE = tmp_path / "secrets" / "vault.key"
    assert vault.is_sealed()
    assert vault.make_key_if_missing()
    assert not vault.is_sealed()
    assert vault.make_key_if_missing() is False
    with pytest.raises(FileExistsError):
        outer.write_key(settings.VAULT_KEY_FILE)


@pytest.mark.usefixtures("before_data_keys")
def test_before_data_keys_the_outer_key_makes_digests() -> None:
    before = vault.fingerprint("systems", SECRET)
    sealed().pk = None
    assert ring.digest_key() == outer.outer_key()
    assert vault.fingerprint("systems", SECRET) == before


@pytest.mark.usefixtures("before_data_keys")
def test_what_was_sealed_before_there_were_keys_still_opens(cast: Cast) -> None:
    job = make_job(cast.north, actor=cast.locksmith)
    assert vault.key_of(bytes(job.parameters)) == ring.LEGACY
    assert ring.make_first_keys()
    ring.forget()
    assert DataKey.objects.filter(name=ring.LEGACY, retired_at__isnull=False).exists()
    assert vault.unseal(job, "parameters") == "{}"


@pytest.mark.usefixtures("before_data_keys")
def test_the_key_of_before_is_asked_for_once(django_assert_num_queries: DjangoAssertNumQueries) -> None:
    """However many values a page opens."""
    symbols = [sealed() for _ in range(3)]
    ring.forget()
    with django_assert_num_queries(2):
        assert [vault.unseal(symbol, "bitting") for symbol in symbols] == [SECRET] * 3


def test_while_keys_are_there_without_it_the_key_of_before_is_asked_for_again() -> None:
    """Whoever changes the outer key wraps it later: then the row counts."""
    assert ring.key_named(ring.LEGACY) == outer.outer_key()
    other = os.urandom(32)
    ring._add(ring.LEGACY, DataKey.Purpose.SEAL, other, outer.outer_key(), is_retired=True)
    assert ring.key_named(ring.LEGACY) == other
