"""What one does to a history who owns its database and knows the product. The one thing they lack is the key
that signs. They drop the triggers and put them back, so that it is never the triggers that give them away.
"""

import json
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from random import Random
from typing import Any
from uuid import UUID

from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey

from keyctl.accounts.models import User
from keyctl.audit.checkpoints import sign_history
from keyctl.audit.models import Event
from keyctl.audit.services import record
from keyctl.audit.verifier import checkpoint_digest, signed_bytes
from keyctl.places.models import Site

EDITS = 500
SIGNED = (20, 34)
ENTRIES = 38


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
    """``triggers``: name and text of those that they will put back."""

    def __init__(self, estate: Estate, rng: Random, triggers: list[tuple[str, str]]) -> None:
        self.estate, self.rng, self.triggers = estate, rng, triggers

    def execute(self, sql: str, values: tuple[Any, ...]) -> Any:
        raise NotImplementedError

    def insert(self, sql: str, *values: Any) -> int:
        """The identifier of the new row."""
        raise NotImplementedError

    def link_anew(self, ids: list[int]) -> None:
        """By the product's own code."""
        raise NotImplementedError

    def altered(self, trigger: str) -> str:
        """A trigger's text so that it stops nobody."""
        raise NotImplementedError

    def run(self, sql: str, *values: Any) -> int:
        return int(self.execute(sql, values).rowcount)

    def ask(self, sql: str, *values: Any) -> Any:
        return self.execute(sql, values).fetchone()[0]

    def entry(self) -> int:
        """Of the part that was signed."""
        return self.rng.randint(1, SIGNED[-1])

    def event(self) -> int:
        return int(self.ask("SELECT event_id FROM audit_link WHERE number = ?", self.entry()))


def tell_something(told: Callable[[Event], None]) -> None:
    """A history with two checkpoints; ``told`` hears of each event, where nothing commits."""
    actor = User.objects.create(username="somebody", display_name="Somebody")
    for nth in range(1, ENTRIES + 1):
        if nth - 1 in SIGNED:  # the signing is an entry too
            sign_history()
            told(Event.objects.latest("pk"))
            continue
        # Any two rows with an identifier will do.
        things = [Site(id=UUID(int=nth)), User(id=UUID(int=nth % 3))]
        event = record(
            actor=actor if nth % 4 else None,
            verb=f"thing.{nth % 5}",
            sentence=f"did thing {nth}",
            site_id=UUID(int=nth % 2) if nth % 3 else None,
            subjects=things[: nth % 3],
            detail={"nth": nth},
        )
        told(event)


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
    return by.insert(sql, at)


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
    by.link_anew([pk for (pk,) in by.execute("SELECT id FROM audit_event ORDER BY id", ()).fetchall()])


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
        by.triggers.append((name, by.altered(sql)))


def leave_all_triggers_out(by: Intruder) -> None:
    by.triggers.clear()


def empty_the_tables(by: Intruder) -> None:
    """All of history, or all but the events."""
    for table in ("audit_head", "audit_link", "audit_eventsubject", "audit_event")[: by.rng.choice([2, 4])]:
        by.run(f"DELETE FROM {table}")  # noqa: S608


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
    leave_all_triggers_out,
    empty_the_tables,
]
