"""The archive of an estate: what went in comes out elsewhere, byte for byte; what was cut, changed or guessed
at is refused and leaves nothing."""

import base64
import hashlib
import json
import os
import shutil
import unicodedata
import zlib
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from argon2.exceptions import HashingError
from cryptography.hazmat.primitives.ciphers.aead import AESGCM
from cryptography.hazmat.primitives.kdf.argon2 import Argon2id
from django.conf import settings as house
from pytest_django import Settings

from keyctl.accounts.models import User
from keyctl.audit.checking import check_history
from keyctl.audit.checkpoints import sign_history
from keyctl.audit.models import Event
from keyctl.audit.services import record
from keyctl.cores.models import Core
from keyctl.field.models import Device
from keyctl.lib.errors import Refused
from keyctl.operations.archive import container
from keyctl.operations.archive.container import Cost, Lock, new_lock, open_lock, read_archive
from keyctl.operations.archive.contents import carried_tables
from keyctl.operations.archive.making import Made, make_archive
from keyctl.operations.archive.taking import import_archive
from keyctl.operations.archive.telling import canonical_digest
from keyctl.systems.models import KeySymbol
from keyctl.vault import ring
from keyctl.vault import services as vault
from keyctl.vault.fields import sealed_fields
from tests.keyctl.operations.conftest import Estate
from tests.keyctl.operations.installations import installation

PASSPHRASE = "six wörds that nobody drew by lot"
QUICK = Cost(memory_kib=64, passes=1, lanes=1)

pytestmark = pytest.mark.usefixtures("quick_laws")


@pytest.fixture(autouse=True)
def cheap_guesses(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(container, "COST", QUICK)


_made: list[Made] = []


@pytest.fixture(scope="module", autouse=True)
def forget_archive() -> Iterator[None]:
    yield
    _made.clear()


@pytest.fixture
def made(estate: Estate, tmp_path: Path) -> Made:
    """Of the module's estate, made once; each test has a copy to spoil."""
    if not _made:
        sign_history()
        _made.append(make_archive(estate.folder / "estate.archive", new_lock(PASSPHRASE)))
    copy = tmp_path / "estate.archive"
    shutil.copy(_made[0].file, copy)
    return replace(_made[0], file=copy)


@pytest.fixture
def elsewhere(
    made: Made, settings: Settings, tmp_path: Path, django_db_blocker: Any, monkeypatch: pytest.MonkeyPatch
) -> Iterator[None]:
    """An empty installation with an outer key and folders of its own."""
    settings.CHECKPOINT_DIR = tmp_path / "checkpoints-elsewhere"
    settings.HISTORY_KEY_FILE = tmp_path / "secrets-elsewhere" / "history.key"
    monkeypatch.setenv("KEYCTL_VAULT_KEY", base64.urlsafe_b64encode(bytes(range(32))).decode())
    with installation(tmp_path / "elsewhere", django_db_blocker):
        yield


def plain_lines(file: Path, passphrase: str = PASSPHRASE) -> list[bytes]:
    return list(read_archive(file, open_lock(file, passphrase)))


def is_untouched() -> bool:
    """No row but those that every empty installation has."""
    return not any(carried.table.model._base_manager.exists() for carried in carried_tables())


class TestThereAndBack:
    @pytest.mark.usefixtures("elsewhere")
    def test_it_arrives_whole_under_other_keys_and_leaves_again_byte_for_byte(
        self, made: Made, tmp_path: Path
    ) -> None:
        taken = import_archive(made.file, PASSPHRASE)
        assert taken.outcome.breached == []
        assert canonical_digest() == made.digest
        again = make_archive(tmp_path / "again.archive", new_lock("another passphrase, as long"))
        assert again.digest == made.digest
        theirs = plain_lines(again.file, "another passphrase, as long")
        assert unlike(plain_lines(made.file), theirs) == {"archive.imported"}
        # Telling of both did not change what is told.
        assert canonical_digest() == made.digest

    @pytest.mark.usefixtures("elsewhere")
    def test_every_sealed_value_is_the_same_and_sealed_by_the_keys_of_the_place(
        self, estate: Estate, made: Made
    ) -> None:
        from keyctl.operations.backup.snapshot import standing_on

        import_archive(made.file, PASSPHRASE)
        here, sealed_here = opened_values()
        own = ring.current()
        assert {vault.key_of(value) for value in sealed_here.values()} == {own}
        with pytest.MonkeyPatch.context() as patch:
            patch.setenv("KEYCTL_VAULT_KEY", FIRST_OUTER_KEY)
            with standing_on(estate.database):
                there, sealed_there = opened_values()
        assert here == there
        assert len(here) > 10
        assert not set(sealed_here.values()) & set(sealed_there.values())

    @pytest.mark.usefixtures("elsewhere", "estate")
    def test_look_ups_by_digest_find_what_they_found(self, made: Made) -> None:
        import_archive(made.file, PASSPHRASE)
        symbols = list(KeySymbol.objects.exclude(bitting=None))
        assert len(symbols) > 5
        for symbol in symbols:
            digest = vault.fingerprint(str(symbol.system_id), vault.unseal(symbol, "bitting"))
            assert symbol in KeySymbol.objects.filter(system=symbol.system_id, fingerprint=digest)

    @pytest.mark.usefixtures("elsewhere")
    def test_the_history_goes_on_and_signs_on(self, made: Made) -> None:
        import_archive(made.file, PASSPHRASE)
        assert list(check_history()) == []
        record(actor=None, verb="test.went_on", sentence="went on")
        sign_history()
        assert list(check_history()) == []
        assert Event.objects.filter(verb="archive.imported").count() == 1

    @pytest.mark.usefixtures("elsewhere")
    def test_nobody_can_sign_in_and_no_tablet_send(self, made: Made) -> None:
        """Credentials stay behind; people and tablets come along."""
        import_archive(made.file, PASSPHRASE)
        users = list(User.objects.all())
        assert len(users) > 5
        assert not any(user.has_usable_password() for user in users)
        assert len({user.password for user in users}) == len(users)
        text = b"\n".join(plain_lines(made.file))
        assert b"argon2" not in text
        assert b"pbkdf2" not in text
        digests = list(Device.objects.values_list("digest", flat=True))
        assert digests
        assert not [digest for digest in digests if digest.encode() in text]


FIRST_OUTER_KEY = os.environ["KEYCTL_VAULT_KEY"]


def opened_values() -> tuple[dict[Any, bytes], dict[Any, bytes]]:
    """Of every row that the archive carries, by table, row and field: opened, and as it is kept."""
    plain, sealed = {}, {}
    names = {carried.table.name for carried in carried_tables()}
    for model, fields in sealed_fields():
        for row in model._base_manager.all() if model._meta.db_table in names else []:
            for field in fields:
                if getattr(row, field) is not None:
                    place = (model._meta.db_table, row.pk, field)
                    plain[place] = vault.unseal_bytes(row, field)
                    sealed[place] = bytes(getattr(row, field))
    return plain, sealed


def unlike(ours: list[bytes], theirs: list[bytes]) -> set[str]:
    """Which verbs the entries have that one of the two tells alone; nothing else may differ but counts, the
    head, and when each was made."""
    verbs = set()
    for line in set(ours) ^ set(theirs):
        found = json.loads(line)
        if isinstance(found, dict):
            assert found.keys() <= {"rows", "history_key", "made_at"}, found
        else:
            verbs |= {value for value in found if isinstance(value, str) and value.startswith("archive.")}
    return verbs


class TestTheFile:
    def test_it_can_be_read_without_keyctl(self, made: Made) -> None:
        """By the words of FORMAT.md: Argon2id (RFC 9106) by OpenSSL, AES-256-GCM, STREAM, zlib."""
        data = made.file.read_bytes()
        magic = b"keyctl estate archive\n"
        assert data.startswith(magic)
        length = int.from_bytes(data[22:26], "big")
        head = data[26 : 26 + length]
        fields = json.loads(head)
        wrapped, kdf = base64.b64decode(fields.pop("key")), fields["kdf"]
        assert (kdf["name"], kdf["version"]) == ("argon2id", 0x13)
        stretched = Argon2id(
            salt=base64.b64decode(kdf["salt"]),
            length=32,
            iterations=kdf["passes"],
            lanes=kdf["lanes"],
            memory_cost=kdf["memory_kib"],
        ).derive(PASSPHRASE.encode())
        bound = hashlib.sha256(magic + json.dumps(fields, sort_keys=True).encode()).digest()
        key = AESGCM(stretched).decrypt(wrapped[:12], wrapped[12:], bound)
        bound = hashlib.sha256(magic + head).digest()
        chunks = [data[at : at + 65552] for at in range(26 + length, len(data), 65552)]
        packed = b"".join(
            AESGCM(key).decrypt(number.to_bytes(11, "big") + bytes([chunk is chunks[-1]]), chunk, bound)
            for number, chunk in enumerate(chunks)
        )
        lines = zlib.decompress(packed).splitlines()
        assert lines == plain_lines(made.file)
        assert json.loads(lines[-1]) == {"end": made.digest}

    def test_no_plaintext_stands_in_it(self, made: Made) -> None:
        raw = made.file.read_bytes()
        canaries = [vault.unseal(symbol, "bitting") for symbol in KeySymbol.objects.exclude(bitting=None)]
        canaries += [vault.unseal(core, "pinning") for core in Core.objects.exclude(pinning=None)]
        assert len(canaries) > 5
        assert not [text for text in canaries if text.encode() in raw or PASSPHRASE.encode() in raw]
        assert made.file.stat().st_mode & 0o077 == 0

    def test_the_passphrase_is_one_however_it_is_composed(self, made: Made) -> None:
        """Unicode: an umlaut as one sign or as two (UAX 15)."""
        taken_apart = unicodedata.normalize("NFD", PASSPHRASE)
        assert taken_apart != PASSPHRASE
        assert plain_lines(made.file, taken_apart) == plain_lines(made.file)


class TestRefused:
    @pytest.mark.usefixtures("elsewhere")
    def test_another_passphrase(self, made: Made) -> None:
        with pytest.raises(Refused, match="passphrase does not open"):
            import_archive(made.file, PASSPHRASE + " ")
        assert is_untouched()

    @pytest.mark.parametrize("place", [0.0, 0.0005, 0.01, 0.3, 0.6, 0.9, 1.0])
    @pytest.mark.usefixtures("elsewhere")
    def test_a_bit_turned_or_an_end_cut_off(self, place: float, made: Made) -> None:
        data = made.file.read_bytes()
        at = min(int(place * len(data)), len(data) - 1)
        turned = bytearray(data)
        turned[at] ^= 1
        for wrong in (bytes(turned), data[:at], data + b"x", data[: len(data) // 2] + data):
            made.file.write_bytes(wrong)
            with pytest.raises(Refused):
                import_archive(made.file, PASSPHRASE)
        assert is_untouched()
        assert not house.HISTORY_KEY_FILE.exists()

    @pytest.mark.usefixtures("elsewhere")
    def test_whole_chunks_cut_off_at_the_end(self, made: Made, tmp_path: Path) -> None:
        more = json.dumps(os.urandom(100_000).hex()).encode()
        forged = forge(tmp_path / "long", [more, *plain_lines(made.file)])
        data = forged.read_bytes()
        start = 26 + int.from_bytes(data[22:26], "big")
        assert len(data) > start + 65552
        forged.write_bytes(data[: start + 65552])
        with pytest.raises(Refused, match="was cut off"):
            import_archive(forged, PASSPHRASE)
        assert is_untouched()

    @pytest.mark.parametrize(
        ("field", "value"),
        [
            ("memory_kib", 2**40),
            ("passes", 10**9),
            ("lanes", 0),
            ("name", "scrypt"),
            ("version", 16),
            ("salt", "AAAA"),
            ("salt", 7),
            ("memory_kib", "much"),
            ("memory_kib", float("inf")),
            ("memory_kib", 1),
        ],
    )
    def test_a_head_that_asks_for_too_much(self, field: str, value: Any, tmp_path: Path) -> None:
        """Before anything is stretched: it comes from whoever gave the file."""
        lock = new_lock(PASSPHRASE)
        head = json.loads(lock.text)
        head["kdf"][field] = value
        file = tmp_path / "file"
        with file.open("wb") as out:
            Lock(json.dumps(head).encode(), lock.key).write_head(out)
        with pytest.raises(Refused, match="cannot be read"):
            open_lock(file, PASSPHRASE)

    def test_a_machine_without_the_memory(self, made: Made, monkeypatch: pytest.MonkeyPatch) -> None:
        def none_left(*_args: Any, **_kwargs: Any) -> bytes:
            raise HashingError("Memory allocation error")

        monkeypatch.setattr(container, "hash_secret_raw", none_left)
        with pytest.raises(Refused, match="of memory, which this machine does not give"):
            open_lock(made.file, PASSPHRASE)

    @pytest.mark.usefixtures("estate")
    def test_an_installation_that_is_not_empty(self, made: Made) -> None:
        before = User.objects.count()
        with pytest.raises(Refused, match="not empty"):
            import_archive(made.file, PASSPHRASE)
        assert User.objects.count() == before

    @pytest.mark.usefixtures("elsewhere")
    def test_a_row_that_no_law_of_the_database_allows(self, made: Made, tmp_path: Path) -> None:
        """Sealed by the right passphrase, and still nothing is written."""
        lines = plain_lines(made.file)
        forged = forge(tmp_path / "forged", [line.replace(b'"housing"', b'"nowhere"') for line in lines])
        with pytest.raises(Refused, match="does not go into this database"):
            import_archive(forged, PASSPHRASE)
        assert is_untouched()

    @pytest.mark.usefixtures("elsewhere")
    def test_a_checkpoint_that_names_a_file_elsewhere(self, made: Made, tmp_path: Path) -> None:
        lines = plain_lines(made.file)
        at = next(index for index, line in enumerate(lines) if line.startswith(b'{"checkpoint"'))
        wrong = json.loads(lines[at])
        wrong["checkpoint"]["size"] = "../planted"
        forged = forge(tmp_path / "forged", [*lines[:at], json.dumps(wrong).encode(), *lines[at + 1 :]])
        with pytest.raises(Refused, match="not made by keyctl"):
            import_archive(forged, PASSPHRASE)
        assert is_untouched()
        assert not list(tmp_path.rglob("planted*"))

    @pytest.mark.usefixtures("elsewhere")
    def test_a_row_that_was_changed_added_or_taken_out(self, made: Made, tmp_path: Path) -> None:
        lines = plain_lines(made.file)
        at = next(
            index
            for index, line in enumerate(lines)
            if line.startswith(b'{"columns"') and b'"places_site"' in line
        )
        other = json.loads(lines[at + 1])
        other[-1] = "Another name"
        changed = [*lines[: at + 1], json.dumps(other).encode(), *lines[at + 2 :]]
        with pytest.raises(Refused, match="something would be lost"):
            import_archive(forge(tmp_path / "changed", changed), PASSPHRASE)
        with pytest.raises(Refused, match="not made by keyctl"):
            import_archive(forge(tmp_path / "less", lines[: at + 1] + lines[at + 2 :]), PASSPHRASE)
        with pytest.raises(Refused, match="ends before its end"):
            import_archive(forge(tmp_path / "cut", lines[:-1]), PASSPHRASE)
        assert is_untouched()

    @pytest.mark.usefixtures("elsewhere")
    def test_a_broken_law_unless_it_is_accepted(self, made: Made) -> None:
        from keyctl.lib import laws

        laws.register_law("test.broken", "Nothing holds", lambda: iter(["core A: broken."]), "Mend it.")
        try:
            with pytest.raises(Refused, match=r"breaks 1 laws .* core A: broken"):
                import_archive(made.file, PASSPHRASE)
            assert is_untouched()
            assert list(house.CHECKPOINT_DIR.glob("*")) == []
            assert not house.HISTORY_KEY_FILE.exists()
            assert import_archive(made.file, PASSPHRASE, accept_breaches=True).outcome.number == 1
        finally:
            del laws._laws["test.broken"]

    @pytest.mark.usefixtures("elsewhere")
    def test_another_key_of_the_history(self, made: Made) -> None:
        from keyctl.audit import signing

        signing.make_key()
        with pytest.raises(Refused, match="Move it away"):
            import_archive(made.file, PASSPHRASE)
        assert is_untouched()


def forge(file: Path, lines: list[bytes]) -> Path:
    """By whoever has the passphrase."""
    from keyctl.operations.backup.packing import Packer

    lock = new_lock(PASSPHRASE)
    with file.open("wb") as out:
        lock.write_head(out)
        packer = Packer(out, lock.key, lock.digest)
        for line in lines:
            packer.write(line)
        packer.finish()
    return file
