"""An archive into an empty installation: all of it, sealed by the keys of this one, or nothing."""

import base64
import hashlib
import json
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from django.conf import settings
from django.db import DatabaseError, connection, transaction

from keyctl.audit import signing
from keyctl.audit.checkpoints import Checkpoint
from keyctl.audit.services import record
from keyctl.lib import env
from keyctl.lib.errors import Refused
from keyctl.lib.planner import look_anew
from keyctl.operations.archive.container import open_lock, read_archive
from keyctl.operations.archive.contents import Carried, carried_tables
from keyctl.operations.archive.telling import IMPORTED, VERSION, canonical_digest, refuse_other_tables
from keyctl.operations.backup.loading import check_is_for_us, emptied, insert_rows
from keyctl.operations.backup.restoring import is_empty, refuse_newer_checkpoints
from keyctl.operations.backup.trying import write_checkpoints
from keyctl.operations.looking import Outcome, look_at_everything
from keyctl.vault import ring

NOT_OURS = "The archive opens and does not say what an archive says. It was not made by keyctl."


@dataclass
class Contents:
    """What an archive said, read to its end."""

    rows: int = 0
    made_at: str = ""
    digest: str = ""
    history_key: str | None = None
    checkpoints: list[Checkpoint] = field(default_factory=list)


@dataclass(frozen=True)
class Taken:
    contents: Contents
    outcome: Outcome


class _Lines:
    """The lines one after the other; the one in hand may belong to whoever asks next."""

    def __init__(self, lines: Iterable[bytes]) -> None:
        self._lines = iter(lines)

    def next(self) -> Any:
        line = next(self._lines, None)
        if line is None:
            raise Refused("The archive ends before its end. Take another copy. Nothing was written.")
        try:
            return json.loads(line)
        except ValueError:
            raise Refused(NOT_OURS) from None

    def fields(self, *names: str) -> dict[str, Any]:
        found = self.next()
        if not isinstance(found, dict) or not found.keys() & set(names):
            raise Refused(NOT_OURS)
        return found

    def rows(self) -> Iterator[list[Any]]:
        """Up to the end of a table, which must count what came."""
        count = 0
        while isinstance(found := self.next(), list):
            count += 1
            yield found
        if found != {"rows": count}:
            raise Refused(NOT_OURS)


def import_archive(file: Path, passphrase: str, *, accept_breaches: bool = False) -> Taken:
    """Raises ``Refused``; then the installation is as empty as it was."""
    _refuse_here()
    lock = open_lock(file, passphrase)
    try:
        with transaction.atomic():
            contents = _load(_Lines(read_archive(file, lock)))
            refuse_newer_checkpoints(contents.checkpoints)
            with _files_beside(contents):
                outcome = _tried(contents, accept_breaches=accept_breaches)
                _record(file, contents)
    except (DatabaseError, KeyError, IndexError, TypeError, ValueError) as error:
        raise Refused(
            f"What the archive holds does not go into this database ({type(error).__name__}). Nothing was "
            "written. "
            "Make it anew from an installation of this release."
        ) from error
    finally:
        ring.forget()
    look_anew()
    return Taken(contents, outcome)


def _refuse_here() -> None:
    if not is_empty():
        raise Refused(
            "This installation is not empty: it has people, sites or a history. Import into a new data "
            "folder, "
            "after `manage.py migrate` and before anybody is added."
        )
    refuse_other_tables("default")
    ring.make_first_keys()


def _load(lines: _Lines) -> Contents:
    first = lines.fields("estate")
    if first["estate"] != VERSION:
        raise Refused(NOT_OURS)
    check_is_for_us(first["migrations"])
    ring.take_digest_key(base64.b64decode(lines.fields("digest_key")["digest_key"], validate=True))
    told = lines.fields("history_key")
    contents = Contents(made_at=told["made_at"], history_key=told["history_key"])
    tables = carried_tables()
    with emptied(connection, [carried.table for carried in tables]):
        for carried in tables:
            contents.rows += _load_table(carried, lines)
    while "checkpoint" in (found := lines.fields("checkpoint", "end")):
        contents.checkpoints.append(_checkpoint(found["checkpoint"]))
    contents.digest = found["end"]
    return contents


def _checkpoint(found: Any) -> Checkpoint:
    """Its size becomes the name of a file."""
    if not isinstance(found, dict) or type(found.get("size")) is not int or found["size"] < 0:
        raise Refused(NOT_OURS)
    return found


def _load_table(carried: Carried, lines: _Lines) -> int:
    head = lines.fields("table")
    if (head["table"], head["columns"]) != (carried.table.name, carried.columns):
        raise Refused(NOT_OURS)
    count = 0

    def counted() -> Iterator[list[Any]]:
        nonlocal count
        for count, row in enumerate(lines.rows(), 1):  # noqa: B007 (told after the last)
            yield carried.sealed_anew(row)

    insert_rows(connection, carried.table, counted())
    return count


@contextmanager
def _files_beside(contents: Contents) -> Iterator[None]:
    """The key and the checkpoints of the history, gone again where the import does not come to its end."""
    _refuse_other_signer(contents)
    folder = settings.CHECKPOINT_DIR
    before = set(folder.glob("*.json"))
    is_new = contents.history_key is not None and not signing.has_key()
    try:
        if is_new and contents.history_key is not None:
            env.write_secret(settings.HISTORY_KEY_FILE, contents.history_key)
        write_checkpoints(contents.checkpoints, folder)
        yield
    except BaseException:
        for file in set(folder.glob("*.json")) - before:
            file.unlink()
        if is_new:
            settings.HISTORY_KEY_FILE.unlink(missing_ok=True)
        raise


def _refuse_other_signer(contents: Contents) -> None:
    if not contents.checkpoints:
        return
    file, wanted = settings.HISTORY_KEY_FILE, contents.checkpoints[-1]["key"]
    if not signing.has_key() and contents.history_key is None:
        raise Refused(
            f"The archive holds a signed history and not the key that signs it. Put that installation's "
            f"history.key, of the public key {wanted}, to {file}, then import again."
        )
    if signing.has_key() and signing.public_key().hex() != wanted:
        raise Refused(
            f"{file} is another key than {wanted}, which signed the history in the archive. Move it away: "
            "nothing "
            "was signed here yet."
        )


def _tried(contents: Contents, *, accept_breaches: bool) -> Outcome:
    """Everything read again says what was told, byte for byte; then every law is asked."""
    if (found := canonical_digest("default")) != contents.digest:
        raise Refused(
            f"What arrived reads {found[:16]}… and the archive says {contents.digest[:16]}…: something "
            "would be lost. "
            "Nothing was written. Make another archive, and keep this one to find out why."
        )
    outcome = look_at_everything()
    if outcome.breached and not accept_breaches:
        first = outcome.breached[0]
        raise Refused(
            f"The estate in the archive breaks {outcome.number} laws of its data, first “{first.law.name}”: "
            f"{first.sentences[0]} Nothing was written. Mend it where it came from, or import it as it is "
            "with "
            "--accept-breaches."
        )
    return outcome


def _record(file: Path, contents: Contents) -> None:
    record(
        actor=None,
        verb=IMPORTED,
        sentence=f"imported the whole estate: {contents.rows} rows of an archive made at {contents.made_at}",
        detail={
            "file": file.name,
            "sha256": _sha256(file),
            "made_at": contents.made_at,
            "rows": contents.rows,
            "digest": contents.digest,
        },
    )


def _sha256(file: Path) -> str:
    with file.open("rb") as source:
        return hashlib.file_digest(source, "sha256").hexdigest()
