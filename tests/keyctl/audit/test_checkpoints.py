"""Checkpoints: when they are signed, what they refuse to go on from, and what is proven with them."""

import json
from datetime import timedelta
from importlib import import_module
from io import StringIO
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest
from django.core.management import CommandError, call_command
from django.db import transaction
from django.utils import timezone
from pytest_django import Settings

from keyctl.audit import guards, signing, verifier
from keyctl.audit.chain import link_events
from keyctl.audit.checking import check_history
from keyctl.audit.checkpoints import ENTRIES, latest_checkpoint, sign_history, sign_when_due
from keyctl.audit.models import Event, Link
from keyctl.audit.services import new_event, record, record_many
from keyctl.lib.errors import Refused

pytestmark = pytest.mark.django_db


def tell(count: int = 1) -> None:
    """Events with their links, as after a commit."""
    record_many((new_event(actor=None, verb="a.b", sentence=f"did thing {nth}"), ()) for nth in range(count))
    link()


def link() -> None:
    waiting = Event.objects.filter(link=None).order_by("pk").values_list("pk", flat=True)
    link_events(transaction.get_connection(), list(waiting))


def signed(count: int) -> dict[str, Any]:
    tell(count)
    checkpoint = sign_history()
    link()
    return checkpoint


def command(*words: str) -> str:
    out = StringIO()
    call_command(*words, stdout=out)
    return out.getvalue()


def test_the_history_is_signed_hourly_where_anything_happened(checkpoints: Path) -> None:
    now = timezone.now()
    assert sign_when_due(now) == "Nothing happened since the last checkpoint."
    tell()
    assert sign_when_due(now) == "Signed the history up to entry 1."
    link()
    assert sign_when_due(now + timedelta(hours=2)) == "Nothing happened since the last checkpoint."
    tell()
    assert sign_when_due(now + timedelta(minutes=50)) == "2 entries wait for the next checkpoint."
    assert sign_when_due(now + timedelta(minutes=61)) == "Signed the history up to entry 3."
    assert [file.name for file in sorted(checkpoints.iterdir())] == ["000000000001.json", "000000000003.json"]


def test_it_is_signed_sooner_where_much_happened() -> None:
    signed(1)
    tell(ENTRIES - 2)
    assert sign_when_due(timezone.now()) == f"{ENTRIES - 1} entries wait for the next checkpoint."
    tell(1)
    assert sign_when_due(timezone.now()) == f"Signed the history up to entry {ENTRIES + 1}."


def test_each_checkpoint_names_the_one_before_and_is_told_to_the_history() -> None:
    first, second = signed(3), signed(4)
    assert (first["before"], second["before"]) == ("", verifier.checkpoint_digest(first))
    assert (first["size"], second["size"]) == (3, 8)
    events = Event.objects.filter(verb="history.signed").order_by("pk")
    assert [event.detail["digest"] for event in events] == [
        verifier.checkpoint_digest(each) for each in (first, second)
    ]
    assert list(check_history()) == []


def test_the_key_is_made_once_and_only_its_owner_reads_it(settings: Settings) -> None:
    signed(1)
    key = settings.HISTORY_KEY_FILE
    kept = key.read_bytes()
    signed(1)
    assert (key.read_bytes(), key.stat().st_mode & 0o777) == (kept, 0o600)


def test_a_key_that_was_lost_is_not_made_anew(settings: Settings) -> None:
    signed(1)
    settings.HISTORY_KEY_FILE.unlink()
    tell()
    with pytest.raises(Refused, match=r"Put .*history\.key back"):
        sign_history()
    with pytest.raises(CommandError, match="name the public key"):
        command("check_history")


def test_before_the_first_signing_no_key_is_asked_for() -> None:
    tell(2)
    assert not signing.has_key()
    assert command("check_history") == "Nothing is wrong.\n"


def test_with_a_key_that_was_noted_the_file_is_not_needed(settings: Settings) -> None:
    signed(1)
    key = signing.public_key()
    settings.HISTORY_KEY_FILE.unlink()
    assert command("check_history", "--key", key.hex()) == "Nothing is wrong.\n"
    with pytest.raises(CommandError, match="1 findings"):
        command("check_history", "--key", "aa" * 32)


def test_a_file_that_holds_no_key_is_named(settings: Settings) -> None:
    settings.HISTORY_KEY_FILE.write_text("nonsense")
    with pytest.raises(Refused, match="holds no key"):
        signing.public_key()


def test_a_history_that_does_not_go_on_from_what_was_signed_is_not_signed() -> None:
    signed(5)
    guards.remove(transaction.get_connection())
    with transaction.get_connection().cursor() as cursor:
        cursor.execute("UPDATE audit_link SET hash = %s WHERE number = 2", [bytes(32)])
    tell()
    with pytest.raises(
        Refused, match=r"does not begin with what was signed.*on purpose, move .*checkpoints away"
    ):
        sign_history()


def test_a_folder_that_cannot_be_written_is_named(settings: Settings, tmp_path: Path) -> None:
    (tmp_path / "file").write_text("")
    settings.CHECKPOINT_DIR = tmp_path / "file" / "below"
    tell()
    with pytest.raises(Refused, match="KEYCTL_CHECKPOINT_DIR"):
        sign_history()
    assert not Event.objects.filter(verb="history.signed").exists()


def test_a_checkpoint_that_cannot_be_read_is_named(checkpoints: Path) -> None:
    signed(1)
    [file] = checkpoints.glob("*.json")
    file.unlink()
    file.write_text("{")
    with pytest.raises(Refused, match="cannot be read as a checkpoint"):
        latest_checkpoint()
    assert any("cannot be read" in finding for finding in check_history())


def test_a_long_history_without_a_checkpoint_is_a_finding() -> None:
    tell(ENTRIES)
    signing.make_key()
    [finding] = check_history()
    assert "there is none" in finding


def test_what_is_wrong_is_told_a_line_each() -> None:
    signed(5)
    guards.remove(transaction.get_connection())
    with transaction.get_connection().cursor() as cursor:
        cursor.execute("UPDATE audit_event SET sentence = 'did nothing' WHERE id = %s", [_event_of(3)])
    guards.install(transaction.get_connection())
    out = StringIO()
    with pytest.raises(CommandError, match="2 findings"):
        call_command("check_history", stdout=out)
    assert out.getvalue().splitlines() == [
        "entry 3: it is not what was recorded.",
        "checkpoint 5: the entries up to here are not those that were signed.",
    ]


def _event_of(number: int) -> int:
    return Link.objects.get(number=number).event.pk


def test_every_entry_is_proven_by_the_first_checkpoint_over_it(tmp_path: Path) -> None:
    signed(5)
    signed(6)
    file = tmp_path / "proof.json"
    for number in range(1, 13):
        file.write_text(command("prove_event", str(number)))
        proof = json.loads(file.read_text())
        assert proof["checkpoint"]["size"] == (5 if number < 6 else 12)
        arguments = ["--proof", str(file), "--key", signing.public_key().hex()]
        assert verifier.main(arguments) == 0
        file.write_text(json.dumps(proof | {"entry": proof["entry"] | {"sentence": "did nothing"}}))
        assert verifier.main(arguments) == 1
    with pytest.raises(CommandError, match="not signed yet"):
        command("prove_event", "13")
    with pytest.raises(CommandError, match="no entry 14"):
        command("prove_event", "14")


def test_an_export_is_checked_without_the_product(
    tmp_path: Path, checkpoints: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    signed(3)
    signed(4)
    file = tmp_path / "history.jsonl"
    told = command("export_history", str(file))
    key = signing.public_key().hex()
    assert key in told
    arguments = [str(file), "--checkpoints", str(checkpoints), "--key", key]
    assert verifier.main(arguments) == 0
    lines = file.read_text().splitlines()
    for changed, words in (
        (lines[:3] + lines[4:], "entry 3: it is missing"),
        (lines[:5], "it was signed with as many entries, and there are 4"),
        ([*lines[:2], lines[3], lines[2], *lines[4:]], "it does not follow"),
        ([line.replace("did thing 2", "did thing 3") for line in lines], "not what was recorded"),
        (["{}"], "cannot be read"),
    ):
        file.write_text("\n".join(changed) + "\n")
        capsys.readouterr()
        assert verifier.main(arguments) == 1
        assert words in capsys.readouterr().out


def test_events_from_before_the_chain_are_linked_by_the_migration(monkeypatch: pytest.MonkeyPatch) -> None:
    migration = import_module("keyctl.audit.migrations.0003_link_what_is_there")
    monkeypatch.setattr(migration, "BATCH", 4)
    for nth in range(11):
        record(actor=None, verb="a.b", sentence=f"did thing {nth}")
    link_events(transaction.get_connection(), [Event.objects.order_by("pk")[2].pk])  # it may have begun
    schema_editor = SimpleNamespace(connection=transaction.get_connection())
    for _ in range(2):
        migration.link_all(None, schema_editor)
    told = Link.objects.order_by("number").values_list("event__sentence", flat=True)
    assert list(told) == [f"did thing {nth}" for nth in (2, 0, 1, *range(3, 11))]
    signing.make_key()
    assert list(check_history()) == []
