"""Five hundred edits behind the product's back, in the file itself, by one who knows it: each is found.

The one thing they lack is the key that signs. They drop the triggers and put them back, so that it is never
the triggers that give them away.
"""

import json
import shutil
import sqlite3
from collections.abc import Callable
from contextlib import closing
from dataclasses import dataclass
from pathlib import Path
from random import Random
from typing import Any
from uuid import UUID

import pytest
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey
from django.db import connection
from pytest_django import Settings

from keyctl.accounts.models import User
from keyctl.audit.chain import link_events
from keyctl.audit.checking import check_history
from keyctl.audit.checkpoints import sign_history
from keyctl.audit.models import EventSubject
from keyctl.audit.services import record
from keyctl.audit.verifier import checkpoint_digest, signed_bytes
from tests.keyctl.audit.files import open_file, using_file

EDITS = 500
SIGNED = (20, 34)
ENTRIES = 38
IN_HASTE = (
    "PRAGMA ignore_check_constraints = ON; PRAGMA synchronous = OFF; PRAGMA journal_mode = MEMORY; BEGIN"
)
TRIGGERS = "SELECT name, sql FROM sqlite_master WHERE type = 'trigger'"

pytestmark = [
    pytest.mark.django_db,
    pytest.mark.skipif(connection.vendor != "sqlite", reason="These edits are made in an SQLite file"),
]


@dataclass
class Estate:
    """A database file that holds a history and nothing else, and the folder of its checkpoints."""

    folder: Path

    @property
    def file(self) -> Path:
        return self.folder / "history.sqlite3"

    @property
    def checkpoints(self) -> list[Path]:
        return sorted((self.folder / "checkpoints").glob("*.json"))


class Intruder:
    """Has the file open, with all triggers dropped until they leave."""

    def __init__(self, estate: Estate, database: sqlite3.Connection, rng: Random) -> None:
        self.estate, self.database, self.rng = estate, database, rng
        self.triggers = database.execute(
            "SELECT name, sql FROM sqlite_master WHERE type = 'trigger'"
        ).fetchall()

    def run(self, sql: str, *values: Any) -> int:
        return self.database.execute(sql, values).rowcount

    def ask(self, sql: str, *values: Any) -> Any:
        return self.database.execute(sql, values).fetchone()[0]

    def entry(self) -> int:
        """Of the part that was signed."""
        return self.rng.randint(1, SIGNED[-1])

    def event(self) -> int:
        return int(self.ask("SELECT event_id FROM audit_link WHERE number = ?", self.entry()))


@pytest.fixture
def sound(tmp_path: Path, settings: Settings, db: None) -> Estate:
    estate = Estate(tmp_path / "sound")
    estate.folder.mkdir()
    settings.CHECKPOINT_DIR = estate.folder / "checkpoints"
    with closing(sqlite3.connect(estate.file)) as empty:
        for sql in _schema():
            empty.execute(sql)
        empty.commit()
    with using_file(estate.file):
        _tell()
        assert list(check_history()) == []
    return estate


def _schema() -> list[str]:
    """The tables of history as migrations leave them, and what they point at."""
    with connection.cursor() as cursor:
        cursor.execute(
            "SELECT sql FROM sqlite_master WHERE sql IS NOT NULL AND name <> 'sqlite_sequence' "
            "AND (substr(tbl_name, 1, 6) = 'audit_' OR tbl_name = 'accounts_user') "
            "ORDER BY type = 'trigger', type <> 'table'"
        )
        return [sql for (sql,) in cursor.fetchall()]


def _tell() -> None:
    actor = User.objects.create(username="somebody", display_name="Somebody")
    for nth in range(1, ENTRIES + 1):
        if nth - 1 in SIGNED:  # the signing is an entry too
            sign_history()
            continue
        things = [EventSubject(id=UUID(int=nth)), User(id=UUID(int=nth % 3))]  # type: ignore[misc]
        record(
            actor=actor if nth % 4 else None,
            verb=f"thing.{nth % 5}",
            sentence=f"did thing {nth}",
            site_id=UUID(int=nth % 2) if nth % 3 else None,
            subjects=things[: nth % 3],
            detail={"nth": nth},
        )


FIELDS: dict[str, Any] = {
    "at": "2020-01-01 00:00:00",
    "actor_id": UUID(int=99).hex,
    "actor_name": "Somebody else",
    "site_id": UUID(int=98).hex,
    "verb": "thing.other",
    "sentence": "did nothing",
    "detail": '{"nth": 1000}',
}


def change_a_field(by: Intruder) -> None:
    name = by.rng.choice(list(FIELDS))
    value = by.rng.choice([FIELDS[name], b"\0\1", "" if name != "at" else "yesterday"])
    by.run(f"UPDATE audit_event SET {name} = ? WHERE id = ?", value, by.event())  # noqa: S608


def change_a_letter(by: Intruder) -> None:
    event = by.event()
    said = by.ask("SELECT sentence FROM audit_event WHERE id = ?", event)
    place = by.rng.randrange(len(said))
    altered = said[:place] + chr(ord(said[place]) + 1) + said[place + 1 :]
    by.run("UPDATE audit_event SET sentence = ? WHERE id = ?", altered, event)


def change_a_subject(by: Intruder) -> None:
    which = by.ask("SELECT id FROM audit_eventsubject ORDER BY id LIMIT 1 OFFSET ?", by.rng.randrange(25))
    name, value = by.rng.choice([("kind", "x.y"), ("subject_id", UUID(int=77).hex), ("event_id", 10_000)])
    by.run(f"UPDATE audit_eventsubject SET {name} = ? WHERE id = ?", value, which)  # noqa: S608


def remove_a_subject(by: Intruder) -> None:
    which = by.ask("SELECT id FROM audit_eventsubject ORDER BY id LIMIT 1 OFFSET ?", by.rng.randrange(25))
    by.run("DELETE FROM audit_eventsubject WHERE id = ?", which)


def add_a_subject(by: Intruder) -> None:
    values = (by.event(), "x.y", UUID(int=by.rng.getrandbits(60)).hex)
    by.run("INSERT INTO audit_eventsubject (event_id, kind, subject_id) VALUES (?, ?, ?)", *values)


def remove_an_event(by: Intruder) -> None:
    event = by.event()
    by.run("DELETE FROM audit_event WHERE id = ?", event)
    if by.rng.random() < 0.7:
        by.run("DELETE FROM audit_eventsubject WHERE event_id = ?", event)
    if by.rng.random() < 0.5:
        by.run("DELETE FROM audit_link WHERE event_id = ?", event)


def remove_a_link(by: Intruder) -> None:
    by.run("DELETE FROM audit_link WHERE number = ?", by.entry())


def add_an_event(by: Intruder) -> int:
    """Told by nobody."""
    at = f"2026-01-0{by.rng.randint(1, 9)} 10:00:00"
    sql = "INSERT INTO audit_event (at, actor_name, verb, sentence, detail) VALUES (?, 'x', 'a.b', 'c', '{}')"
    return int(by.database.execute(sql, [at]).lastrowid or 0)


def add_an_entry(by: Intruder) -> None:
    """With a place among the others, which move on; or below the first."""
    event, place = add_an_event(by), by.rng.choice([by.entry(), -by.entry(), 0])
    if place > 0:
        by.run("UPDATE audit_link SET number = number + 1000 WHERE number >= ?", place)
        by.run("UPDATE audit_link SET number = number - 999 WHERE number >= 1000")
        by.run("UPDATE audit_head SET number = number + 1")
    sql = "INSERT INTO audit_link (number, event_id, before, hash) VALUES (?, ?, ?, ?)"
    by.run(sql, place, event, bytes(32), by.rng.randbytes(32))


def put_two_in_another_order(by: Intruder) -> None:
    one, other = by.rng.sample(range(1, SIGNED[-1] + 1), 2)
    first, second = (by.ask("SELECT event_id FROM audit_link WHERE number = ?", n) for n in (one, other))
    if by.rng.random() < 0.5:
        for number, event in ((one, -1), (other, first), (one, second)):
            by.run("UPDATE audit_link SET event_id = ? WHERE number = ?", event, number)
    else:
        for before, after in ((first, -1), (second, first), (-1, second)):
            by.run("UPDATE audit_event SET id = ? WHERE id = ?", after, before)
            by.run("UPDATE audit_eventsubject SET event_id = ? WHERE event_id = ?", after, before)


def cut_the_end_off(by: Intruder) -> None:
    """Down to an entry that is signed, with everything as it was then."""
    last = by.entry() - 1
    by.run("DELETE FROM audit_event WHERE id IN (SELECT event_id FROM audit_link WHERE number > ?)", last)
    by.run("DELETE FROM audit_eventsubject WHERE event_id NOT IN (SELECT id FROM audit_event)")
    by.run("DELETE FROM audit_link WHERE number > ?", last)
    if last and by.rng.random() < 0.8:
        sql = "UPDATE audit_head SET number = ?, hash = (SELECT hash FROM audit_link WHERE number = ?)"
        by.run(sql, last, last)


def move_the_head(by: Intruder) -> None:
    way = by.rng.choice(["gone", "number", "hash"])
    if way == "gone":
        by.run("DELETE FROM audit_head")
    elif way == "number":
        by.run("UPDATE audit_head SET number = ?", by.rng.randrange(ENTRIES))
    else:
        by.run("UPDATE audit_head SET hash = ?", by.rng.randbytes(32))


def change_a_hash(by: Intruder) -> None:
    name, value = by.rng.choice(["before", "hash"]), by.rng.choice([by.rng.randbytes(32), b"", "text"])
    by.run(f"UPDATE audit_link SET {name} = ? WHERE number = ?", value, by.entry())  # noqa: S608


def make_the_chain_anew(by: Intruder) -> None:
    """Something is changed, and every hash after it is worked out again by the product's own code."""
    by.rng.choice([change_a_field, change_a_letter, add_a_subject, remove_a_subject])(by)
    by.run("DELETE FROM audit_link")
    by.run("DELETE FROM audit_head")
    by.database.commit()
    ids = [pk for (pk,) in by.database.execute("SELECT id FROM audit_event ORDER BY id")]
    with closing(open_file(by.estate.file)) as product:
        link_events(product, ids)


def sign_it_anew(by: Intruder) -> None:
    """With a key of their own, after the chain was made anew."""
    make_the_chain_anew(by)
    own, before = Ed25519PrivateKey.generate(), ""
    for file in by.estate.checkpoints:
        checkpoint = json.loads(file.read_text())
        checkpoint |= {"before": before, "key": own.public_key().public_bytes_raw().hex()}
        checkpoint["signature"] = own.sign(signed_bytes(checkpoint)).hex()
        before = checkpoint_digest(checkpoint)
        rewrite(file, json.dumps(checkpoint))


def spoil_a_checkpoint(by: Intruder) -> None:
    file = by.rng.choice(by.estate.checkpoints)
    checkpoint = json.loads(file.read_text())
    name = by.rng.choice(["", "size", "root", "at", "before", "signature", "nothing"])
    if not name:
        file.unlink()
    elif name == "nothing":
        rewrite(file, "{")
    else:
        changed = {"size": 1, "at": "2026-01-01T00:00:00+00:00"}.get(name, by.rng.randbytes(32).hex())
        rewrite(file, json.dumps(checkpoint | {name: changed}))


def rewrite(file: Path, text: str) -> None:
    file.unlink()
    file.write_text(text)


def leave_a_trigger_out(by: Intruder) -> None:
    """Or put it back in other words."""
    name, sql = by.triggers.pop(by.rng.randrange(len(by.triggers)))
    if by.rng.random() < 0.5:
        by.triggers.append((name, sql.replace("RAISE(ABORT, ", "NULLIF(1, ")))


Edit = Callable[[Intruder], Any]
KINDS: list[Edit] = [
    change_a_field,
    change_a_letter,
    change_a_subject,
    remove_a_subject,
    add_a_subject,
    remove_an_event,
    remove_a_link,
    add_an_event,
    add_an_entry,
    put_two_in_another_order,
    cut_the_end_off,
    move_the_head,
    change_a_hash,
    make_the_chain_anew,
    sign_it_anew,
    spoil_a_checkpoint,
    leave_a_trigger_out,
]


def intrude(estate: Estate, kind: Edit, rng: Random) -> None:
    with closing(sqlite3.connect(estate.file)) as database:
        by = Intruder(estate, database, rng)
        database.executescript(IN_HASTE)
        for name, _ in by.triggers:
            by.run(f"DROP TRIGGER {name}")
        kind(by)
        for _, sql in by.triggers:
            by.run(sql)
        database.commit()


def test_five_hundred_edits_are_all_found(sound: Estate, tmp_path: Path, settings: Settings) -> None:
    overlooked = []
    for seed in range(EDITS):
        kind, rng = KINDS[seed % len(KINDS)], Random(seed)
        estate = Estate(tmp_path / "edited")
        shutil.copytree(sound.folder, estate.folder)
        settings.CHECKPOINT_DIR = estate.folder / "checkpoints"
        intrude(estate, kind, rng)
        with using_file(estate.file):
            if next(check_history(), None) is None:
                overlooked.append((seed, kind.__name__))
        shutil.rmtree(estate.folder)
    assert overlooked == []


def test_the_triggers_alone_are_no_edit(sound: Estate) -> None:
    """What the edits have in common is found by nobody: so it was the edits that were found."""
    intrude(sound, lambda _by: None, Random(0))
    with using_file(sound.file):
        assert list(check_history()) == []
