"""The ring of data keys: which one seals now, and each by its name, unwrapped once and kept in memory.

What an installation sealed before it had data keys was sealed by the outer key itself; that one is then on
the ring under the name ``LEGACY``.
"""

import os
from time import monotonic

from cryptography.exceptions import InvalidTag
from cryptography.hazmat.primitives.ciphers.aead import AESGCM
from django.conf import settings
from django.db import transaction
from django.utils import timezone

from keyctl.lib.errors import Refused
from keyctl.vault.errors import AnotherKey, NoSuchKey, Tampered
from keyctl.vault.fields import sealed_fields
from keyctl.vault.models import DataKey
from keyctl.vault.outer import KEY_BYTES, name_of, outer_key

LEGACY = "00000000"
NONCE_BYTES = 12

Purpose = DataKey.Purpose

# By outer key and name. A name is drawn at random and never stands for another key.
_opened: dict[tuple[str, str], bytes] = {}
# By outer key: the name of the key that seals now, and until when that is believed.
_current: dict[str, tuple[str | None, float]] = {}


def current() -> str | None:
    """The name of the key that seals now; None before the first was made."""
    outer = name_of(outer_key())
    name, until = _current.get(outer, (None, 0.0))
    if monotonic() >= until:
        rows = DataKey.objects.filter(purpose=Purpose.SEAL, wrapped_by=outer, retired_at=None)
        name = rows.values_list("name", flat=True).first()
        if name is None:
            _refuse_another_outer_key()
        _current[outer] = (name, monotonic() + settings.VAULT_LOOKS_EVERY)
    return name


def key_named(name: str) -> bytes:
    """A key that sealed something. Raises ``NoSuchKey`` where the ring lacks it."""
    outer = outer_key()
    place = (name_of(outer), name)
    if place not in _opened:
        row = DataKey.objects.filter(name=name, wrapped_by=place[0]).first()
        if row is None and name != LEGACY:
            raise NoSuchKey(name)
        if row is None and DataKey.objects.exists():
            # Not kept: whoever changes the outer key may still be about to wrap this one.
            return outer
        _opened[place] = outer if row is None else _unwrap(row, outer)
    return _opened[place]


def digest_key() -> bytes:
    """The key of keyed digests. It stays when others are changed: digests cannot be made anew."""
    outer = outer_key()
    place = (name_of(outer), "digest")
    if place not in _opened:
        row = DataKey.objects.filter(purpose=Purpose.DIGEST, wrapped_by=place[0]).first()
        if row is None:
            _refuse_another_outer_key()
            return outer
        _opened[place] = _unwrap(row, outer)
    return _opened[place]


def _refuse_another_outer_key() -> None:
    """No key of the ring under the outer key in use: right before the first was made, wrong ever after."""
    if DataKey.objects.exists():
        raise AnotherKey


def forget() -> None:
    """Ask the database again: for what changes keys, and for tests that undo such a change."""
    _opened.clear()
    _current.clear()


@transaction.atomic
def make_first_keys() -> bool:
    """The first keys of an installation; False where there are some. What was sealed before still opens."""
    if DataKey.objects.exists():
        return False
    outer = outer_key()
    sealed_before = _holds_sealed_values()
    if sealed_before:
        _add(LEGACY, Purpose.SEAL, outer, outer, is_retired=True)
    _add(_new_name(), Purpose.SEAL, os.urandom(KEY_BYTES), outer)
    # Digests that stand in the database were made with the outer key.
    _add(_new_name(), Purpose.DIGEST, outer if sealed_before else os.urandom(KEY_BYTES), outer)
    transaction.on_commit(forget)
    return True


@transaction.atomic
def make_next_key() -> str:
    """A new key that seals from now on; the one before it only opens."""
    outer = outer_key()
    if DataKey.objects.exclude(wrapped_by=name_of(outer)).exists():
        raise Refused("The outer key is being changed. Run `vault rewrap --finish` first, then rotate.")
    rows = DataKey.objects.filter(purpose=Purpose.SEAL, retired_at=None)
    list(rows.select_for_update())
    rows.update(retired_at=timezone.now())
    name = _new_name()
    _add(name, Purpose.SEAL, os.urandom(KEY_BYTES), outer)
    transaction.on_commit(forget)
    return name


@transaction.atomic
def wrap_for(new: bytes) -> int:
    """Every key once more, wrapped by a new outer key beside the one in use; returns how many."""
    outer = outer_key()
    rows = list(DataKey.objects.select_for_update().filter(wrapped_by=name_of(outer)))
    done = set(DataKey.objects.filter(wrapped_by=name_of(new)).values_list("name", flat=True))
    for row in rows:
        if row.name not in done:
            key = _unwrap(row, outer)
            _add(row.name, Purpose(row.purpose), key, new, is_retired=row.retired_at is not None)
    return len(rows) - len(done)


@transaction.atomic
def take_digest_key(key: bytes) -> None:
    """The digests that come into an empty installation were made with this key, and are found by it here."""
    outer = outer_key()
    DataKey.objects.filter(purpose=Purpose.DIGEST).delete()
    _add(_new_name(), Purpose.DIGEST, key, outer)
    forget()


def forget_other_wraps() -> int:
    """Drop what older outer keys wrapped; returns how many rows. The key in use must open every name."""
    outer = outer_key()
    kept = DataKey.objects.filter(wrapped_by=name_of(outer))
    for row in kept:
        _unwrap(row, outer)
    others = DataKey.objects.exclude(wrapped_by=name_of(outer))
    if missing := set(others.values_list("name", flat=True)) - set(kept.values_list("name", flat=True)):
        raise NoSuchKey(min(missing))
    return others.delete()[0]


def _add(name: str, purpose: DataKey.Purpose, key: bytes, outer: bytes, *, is_retired: bool = False) -> None:
    nonce = os.urandom(NONCE_BYTES)
    wrapped = nonce + AESGCM(outer).encrypt(nonce, key, _place(name, purpose))
    DataKey.objects.create(
        name=name,
        purpose=purpose,
        wrapped_by=name_of(outer),
        wrapped=wrapped,
        retired_at=timezone.now() if is_retired else None,
    )


def _unwrap(row: DataKey, outer: bytes) -> bytes:
    wrapped = bytes(row.wrapped)
    nonce, sealed = wrapped[:NONCE_BYTES], wrapped[NONCE_BYTES:]
    try:
        return AESGCM(outer).decrypt(nonce, sealed, _place(row.name, row.purpose))
    except InvalidTag:
        raise Tampered(f"data key {row.name}") from None


def _place(name: str, purpose: str) -> bytes:
    return f"keyctl|data key|{name}|{purpose}".encode()


def _new_name() -> str:
    while (name := os.urandom(4).hex()) == LEGACY:
        continue
    return name


def _holds_sealed_values() -> bool:
    return any(
        model._base_manager.exclude(**{f"{name}__isnull": True}).exists()
        for model, names in sealed_fields()
        for name in names
    )
