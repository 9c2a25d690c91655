"""A backup holds every row of one moment and no secret, is tried before it bears its name, spares others."""

import base64
import errno
import hashlib
import json
import os
import sqlite3
import zlib
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path
from threading import Event as Signal
from threading import Thread
from typing import Any, BinaryIO, cast

import pytest
from cryptography.hazmat.primitives import hashes, hmac
from cryptography.hazmat.primitives.asymmetric.x25519 import X25519PrivateKey, X25519PublicKey
from cryptography.hazmat.primitives.ciphers.aead import AESGCM
from django.db import DatabaseError, transaction
from pytest_django import Settings

from keyctl.audit.checkpoints import sign_history
from keyctl.audit.models import Event
from keyctl.audit.services import record
from keyctl.cores.models import Core
from keyctl.lib.errors import Refused
from keyctl.operations.backup import container, keys, loading, making, restoring, sealing
from keyctl.operations.backup.container import open_key, read_lines
from keyctl.operations.backup.making import make_backup
from keyctl.operations.backup.restoring import restore_backup
from keyctl.operations.backup.snapshot import standing_on
from keyctl.operations.backup.tables import LEFT_OUT, all_tables, kept_tables, own_migrations
from keyctl.operations.backup.values import kind_of
from keyctl.stock.models import PinBin, PinMove
from keyctl.systems.models import KeySymbol
from keyctl.vault import services as vault
from tests.keyctl.operations.conftest import Estate
from tests.keyctl.operations.installations import installation

ROUNDS = int(os.environ.get("KEYCTL_BACKUP_ROUNDS", "20"))
pytestmark = pytest.mark.usefixtures("quick_laws")

Rows = dict[str, list[Any]]


def rows_of_file(file: Path) -> Rows:
    """Every row as SQLite itself tells it, without Django."""
    with sqlite3.connect(f"file:{file}?mode=ro", uri=True) as database:
        names = [
            name
            for (name,) in database.execute("SELECT name FROM sqlite_master WHERE type = 'table'")
            if not name.startswith("sqlite_") and name not in LEFT_OUT | {"django_migrations"}
        ]
        return {name: sorted(map(repr, database.execute(f'SELECT * FROM "{name}"'))) for name in names}  # noqa: S608


def without_what_followed(rows: Rows) -> Rows:
    """Making and restoring are told to history afterwards."""
    return {name: found for name, found in rows.items() if not name.startswith("audit_")}


def plain_lines(file: Path) -> Iterator[Any]:
    return (json.loads(line) for line in read_lines(file, open_key(file)))


def test_what_is_restored_is_what_was_there(estate: Estate, tmp_path: Path, django_db_blocker: Any) -> None:
    before = rows_of_file(estate.file)
    made = make_backup()
    with installation(tmp_path / "elsewhere", django_db_blocker) as other:
        restored = restore_backup(made.file)
        after = rows_of_file(Path(other.settings_dict["NAME"]))
        told = Event.objects.order_by("-id")[0]
        symbol = KeySymbol.objects.exclude(bitting=None)[0]
        assert vault.unseal(symbol, "bitting")
    assert len(before["cores_core"]) > 3
    assert sum(map(len, before.values())) > 500
    assert without_what_followed(after) == without_what_followed(before)
    for name in ("audit_event", "audit_eventsubject", "audit_link"):
        assert set(before[name]) <= set(after[name])
        assert len(after[name]) <= len(before[name]) + 1
    assert (told.verb, restored.missing, restored.outcome.number) == ("backup.restored", [], 0)


def test_every_table_goes_along_but_the_sessions() -> None:
    left = {table.name for table in all_tables()} - {table.name for table in kept_tables()}
    assert left <= LEFT_OUT
    assert any("session" in name for name in left)
    for table in all_tables():
        assert all(kind_of(field) for field in table.fields)


def test_no_bitting_is_in_it_even_opened(estate: Estate, settings: Settings) -> None:
    """Every plaintext that the vault gives, looked for in every form that a line could hold it."""
    made = make_backup()
    text = b"\n".join(read_lines(made.file, open_key(made.file)))
    raw = made.file.read_bytes()
    canaries = {vault.unseal(symbol, "bitting") for symbol in KeySymbol.objects.exclude(bitting=None)}
    canaries |= {vault.unseal(core, "pinning") for core in Core.objects.exclude(pinning=None)}
    assert len(canaries) > 5
    for canary in canaries:
        forms = [
            canary.encode(),
            base64.b64encode(canary.encode()).rstrip(b"="),
            canary.encode().hex().encode(),
        ]
        forms.append(json.dumps(canary).encode()[1:-1])
        assert not [form for form in forms if len(form) > 4 and (form in text or form in raw)]
    for file in settings.SECRETS_DIR.iterdir():
        if file.suffix == ".key":
            assert file.read_bytes().strip() not in text + raw
    assert os.environ["KEYCTL_VAULT_KEY"].encode() not in text + raw


def test_it_can_be_read_without_keyctl(estate: Estate, settings: Settings) -> None:
    """By the words of the format: RFC 9180 (base mode, X25519, HKDF-SHA256, AES-256-GCM), STREAM, zlib."""
    made = make_backup()
    data = made.file.read_bytes()
    assert data.startswith(b"keyctl backup\n")
    length = int.from_bytes(data[14:18], "big")
    head = data[18 : 18 + length]
    secret = base64.urlsafe_b64decode(settings.BACKUP_KEY_FILE.read_text())
    key = hpke_open(secret, base64.b64decode(json.loads(head)["key"]), b"keyctl backup 1")
    bound = hashlib.sha256(b"keyctl backup\n" + head).digest()
    chunks = [data[at : at + 65552] for at in range(18 + length, len(data), 65552)]
    packed = b"".join(
        AESGCM(key).decrypt(number.to_bytes(11, "big") + bytes([chunk is chunks[-1]]), chunk, bound)
        for number, chunk in enumerate(chunks)
    )
    lines = zlib.decompress(packed).splitlines()
    assert lines == list(read_lines(made.file, open_key(made.file)))
    at = next(index for index, line in enumerate(lines) if line.startswith(b'{"table":"cores_core"'))
    rows = lines[at + 1 : at + 1 + Core.objects.count()]
    end = json.loads(lines[at + 1 + len(rows)])
    total = sum(int(hashlib.sha256(row).hexdigest(), 16) for row in rows) % 2**256
    assert end == {"rows": len(rows), "digest": f"{total:064x}"}


def hpke_open(secret: bytes, sealed: bytes, info: bytes) -> bytes:
    """RFC 9180, sections 4.1, 5.1.1 and 5.2, for one message."""
    kem = b"KEM" + (0x0020).to_bytes(2, "big")
    suite = b"HPKE" + b"".join(number.to_bytes(2, "big") for number in (0x0020, 0x0001, 0x0002))

    def mac(key: bytes, text: bytes) -> bytes:
        made = hmac.HMAC(key or bytes(32), hashes.SHA256())
        made.update(text)
        return made.finalize()

    def extract(own: bytes, salt: bytes, label: bytes, given: bytes) -> bytes:
        return mac(salt, b"HPKE-v1" + own + label + given)

    def expand(own: bytes, key: bytes, label: bytes, given: bytes, size: int) -> bytes:
        return mac(key, size.to_bytes(2, "big") + b"HPKE-v1" + own + label + given + b"\x01")[:size]

    own = X25519PrivateKey.from_private_bytes(secret)
    sent, text = sealed[:32], sealed[32:]
    shared = own.exchange(X25519PublicKey.from_public_bytes(sent))
    context = sent + own.public_key().public_bytes_raw()
    common = expand(kem, extract(kem, b"", b"eae_prk", shared), b"shared_secret", context, 32)
    schedule = b"\x00" + extract(suite, b"", b"psk_id_hash", b"") + extract(suite, b"", b"info_hash", info)
    root = extract(suite, common, b"secret", b"")
    key, nonce = (
        expand(suite, root, label, schedule, size) for label, size in ((b"key", 32), (b"base_nonce", 12))
    )
    return AESGCM(key).decrypt(nonce, text, b"")


def test_it_is_of_one_moment_while_people_write(
    estate: Estate, tmp_path: Path, django_db_blocker: Any
) -> None:
    """Each transaction of the writer moves a bin and records it; a torn moment breaks sum or chain."""
    pin_bin = PinBin.objects.create(site=estate.cast.north, family="small", role="top", size=77, count=0)
    stop, commits = Signal(), [0]

    def write() -> None:
        own = estate.database.copy()
        with django_db_blocker.unblock(), standing_on(own):
            while not stop.wait(0.02):
                with transaction.atomic():
                    PinMove.objects.create(bin=pin_bin, change=1, reason="bought", by=estate.cast.locksmith)
                    commits[0] += 1
                    PinBin.objects.filter(pk=pin_bin.pk).update(count=commits[0])
                    record(actor=estate.cast.locksmith, verb="stock.bought", sentence="bought a pin")
        own.close()

    writer = Thread(target=write)
    writer.start()
    counts = []
    try:
        began = datetime(2026, 1, 1, tzinfo=UTC)
        for number in range(ROUNDS):
            sign_history()
            at_first = commits[0]
            made = make_backup(now=began + timedelta(days=number))
            assert made.trial.outcome.number == 0, made.trial.outcome.breached
            assert commits[0] > at_first  # nobody waited
            counts.append(made.trial.contents.tables["stock_pinmove"].rows)
    finally:
        stop.set()
        writer.join()
    assert counts == sorted(set(counts))
    with installation(tmp_path / "elsewhere", django_db_blocker):
        assert restore_backup(made.file).outcome.number == 0
        assert PinBin.objects.get(pk=pin_bin.pk).count == PinMove.objects.filter(bin=pin_bin).count() > 0


def test_every_cut_flip_and_exchange_is_refused(estate: Estate, tmp_path: Path, settings: Settings) -> None:
    made = make_backup()
    whole = made.file.read_bytes()
    copy = tmp_path / "copies" / made.file.name
    copy.parent.mkdir()
    head = 18 + int.from_bytes(whole[14:18], "big")

    def said(data: bytes) -> str:
        copy.write_bytes(data)
        with pytest.raises(Refused) as refused:
            list(read_lines(copy, open_key(copy)))
        return refused.value.message

    assert "not a backup of keyctl" in said(b"")
    assert "not a backup of keyctl" in said(b"PK\x03\x04" + whole)
    for cut in (14, 17, 30, head - 1):
        assert "head" in said(whole[:cut])
    for cut in (head, head + 1, head + 15, head + 100, len(whole) - 16, len(whole) - 1):
        assert "not whole" in said(whole[:cut])
    assert "not whole" in said(whole + b"\0")
    for place in (0, 13, 14, 17, 18, 40, whole.index(b'"key"') + 12, head - 3, head, head + 9, -17, -1):
        data = bytearray(whole)
        data[place] ^= 4
        assert said(bytes(data)).endswith((".", "it."))
    assert "format 2" in said(whole.replace(b'"format": 1', b'"format": 2'))
    older = whole.replace(made.file.name.encode(), b"keyctl-20200101T000000Z.keyctl-backup")
    assert "Give it its name back" in said(older)


def test_a_file_under_another_name_is_refused(estate: Estate) -> None:
    made = make_backup()
    renamed = made.file.rename(made.file.with_name("keyctl-20990101T000000Z.keyctl-backup"))
    with pytest.raises(Refused, match="must not pass for a newer one"):
        open_key(renamed)


def test_lines_that_were_changed_and_sealed_again_are_refused(estate: Estate, tmp_path: Path) -> None:
    """Who has the public key alone can seal what they like, but signs nothing."""
    made = make_backup()
    lines = list(read_lines(made.file, open_key(made.file)))
    at = next(index for index, line in enumerate(lines) if b',"shelf",' in line)
    for forged in (
        [*lines[:at], lines[at].replace(b"shelf", b"bench"), *lines[at + 1 :]],
        [*lines[:at], *lines[at + 1 :]],
        lines[:-1],
        [*lines[:-1], lines[-1].replace(b'"end":"', b'"end":"00')],
        [lines[0].replace(b'"made_at":"2', b'"made_at":"1'), *lines[1:]],
    ):
        with pytest.raises(Refused):
            check_lines(forged)
    assert check_lines(lines).rows == made.trial.contents.rows


def check_lines(lines: list[bytes]) -> loading.Contents:
    class Stop(Exception):
        """Nothing stays."""

    contents: list[loading.Contents] = []
    from django.db import connection

    try:
        with transaction.atomic():
            contents.append(loading.load(connection, lines))
            raise Stop
    except Stop:
        return contents[0]


def test_another_key_opens_nothing_and_says_which_is_wanted(
    estate: Estate, tmp_path: Path, settings: Settings
) -> None:
    made = make_backup()
    wanted = keys.name_of(keys.public_key())
    other = tmp_path / "other.key"
    other.write_text(base64.urlsafe_b64encode(os.urandom(32)).decode())
    with pytest.raises(Refused, match=wanted):
        open_key(made.file, other)
    settings.BACKUP_KEY_FILE.unlink()
    with pytest.raises(Refused, match="--key"):
        open_key(made.file)
    # The public half goes on making them.
    later = make_backup(now=datetime(2030, 1, 1, tzinfo=UTC))
    assert later.file.exists()


class FullDisk:
    """The n-th write finds no room."""

    def __init__(self, out: BinaryIO, writes: int) -> None:
        self._out, self._writes = out, writes

    def write(self, data: bytes) -> int:
        self._writes -= 1
        if self._writes < 0:
            raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))
        return self._out.write(data)


@pytest.mark.parametrize("writes", [0, 1, 2])
def test_a_full_disk_leaves_the_older_ones_and_no_half_file(
    estate: Estate, settings: Settings, monkeypatch: pytest.MonkeyPatch, writes: int
) -> None:
    older = make_backup(now=datetime(2026, 1, 1, tzinfo=UTC)).file
    content = older.read_bytes()

    class Writer(container.LineWriter):
        def __init__(self, out: BinaryIO, name: str, made_at: str) -> None:
            super().__init__(cast(BinaryIO, FullDisk(out, writes)), name, made_at)

    # However little the estate holds, it is more than two writes.
    monkeypatch.setattr(sealing, "CHUNK_BYTES", 1024)
    monkeypatch.setattr(making, "LineWriter", Writer)
    with pytest.raises(Refused, match="No space left on device"):
        make_backup()
    assert [file.name for file in settings.BACKUP_DIR.iterdir()] == [older.name]
    assert older.read_bytes() == content
    assert not list(settings.DATA_DIR.glob("scratch-*"))


def test_no_room_for_the_trial_makes_no_backup(
    estate: Estate, settings: Settings, monkeypatch: pytest.MonkeyPatch
) -> None:
    def no_room(*_facts: Any) -> None:
        raise DatabaseError("database or disk is full")

    monkeypatch.setattr("keyctl.operations.backup.trying.load", no_room)
    with pytest.raises(Refused, match="does not go into a database"):
        make_backup()
    assert list(settings.BACKUP_DIR.iterdir()) == []


def test_what_does_not_come_back_as_it_was_is_no_backup(
    estate: Estate, settings: Settings, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A fault of our own in reading back: a row is lost on the way."""
    load = loading.load

    def lossy(connection: Any, lines: Any) -> Any:
        contents = load(connection, lines)
        with connection.cursor() as cursor:
            cursor.execute("UPDATE places_site SET name = 'Somewhere' WHERE code = 'SOUTH'")
        return contents

    monkeypatch.setattr("keyctl.operations.backup.trying.load", lossy)
    with pytest.raises(Refused, match="places_site"):
        make_backup()
    assert list(settings.BACKUP_DIR.iterdir()) == []


def test_other_migrations_are_refused_with_what_differs(
    estate: Estate, monkeypatch: pytest.MonkeyPatch, tmp_path: Path, django_db_blocker: Any
) -> None:
    made = make_backup()
    own = own_migrations()
    with pytest.raises(Refused, match=r"here lack 1, for instance cores 9999_later\."):
        loading.check_is_for_us([*own, "cores 9999_later"])
    monkeypatch.setattr(loading, "own_migrations", lambda: [*own, "cores 9998_more", "cores 9999_later"])
    with installation(tmp_path / "elsewhere", django_db_blocker):
        with pytest.raises(Refused, match=r"the backup lacks 2, for instance cores 9998_more\."):
            restore_backup(made.file)
        monkeypatch.setattr(restoring, "own_migrations", lambda: [*own, "cores 9998_more"])
        with pytest.raises(Refused, match="migrate"):
            restore_backup(made.file)
        assert not Core.objects.exists()


def test_tables_behind_the_program_are_not_backed_up(
    estate: Estate, settings: Settings, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(making, "own_migrations", lambda: ["cores 9999_later"])
    with pytest.raises(Refused, match="migrate"):
        make_backup()
