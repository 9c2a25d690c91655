"""An event names the request it was written in; what was hashed before there were any goes on verifying."""

import json
from hashlib import sha256
from io import StringIO
from pathlib import Path
from typing import Any
from uuid import UUID

import pytest
import structlog
from django.core.management import CommandError, call_command
from django.db import DatabaseError, transaction

from keyctl.audit import verifier
from keyctl.audit.chain import link_events
from keyctl.audit.checking import check_history
from keyctl.audit.checkpoints import sign_history
from keyctl.audit.entries import as_entry, entries_without_requests, linked_entries
from keyctl.audit.models import Event, Head, Link
from keyctl.audit.proofs import export_history, prove_entry, witness_of
from keyctl.audit.services import record
from keyctl.places.models import Site
from tests.flushing import change_unguarded

pytestmark = pytest.mark.django_db

NUMBER = "0f8b9a1cd2e34f5a8b7c6d5e4f3a2b1c"
FIELDS = ("id", "at", "actor", "actor_name", "site", "verb", "sentence", "detail")


def told(request: str = "", **facts: Any) -> Event:
    """In the chain, as after a commit."""
    with structlog.contextvars.bound_contextvars(**({"request_id": request} if request else {})):
        event = record(actor=None, verb="a.b", sentence="did something", **facts)
    link_events(transaction.get_connection(), [event.pk])
    return event


def hashed(entry: dict[str, Any]) -> str:
    """Both forms, written down here once more, byte by byte."""
    said = bytes([0]) + bytes.fromhex(entry["before"]) + entry["number"].to_bytes(8, "big")
    fields = [entry[name] for name in FIELDS]
    if entry["request"]:
        said += bytes([255, 255, 255, 255, 2])
        fields.append(entry["request"])
    for field in fields + entry["subjects"]:
        said += len(field.encode()).to_bytes(4, "big") + field.encode()
    return sha256(said).hexdigest()


def test_it_is_the_number_of_the_log_and_there_is_none_outside_of_one() -> None:
    assert told(NUMBER).request == NUMBER
    assert told().request is None


def test_both_forms_are_hashed_as_they_are_described() -> None:
    told(detail={"ä": ["ü" * 600, 1]})
    told(NUMBER)
    entries = list(linked_entries(transaction.get_connection()))
    assert [entry["request"] for entry in entries] == ["", NUMBER]
    assert [entry["hash"] for entry in entries] == [hashed(entry) for entry in entries]


def test_no_two_forms_of_different_entries_are_the_same_bytes() -> None:
    """A request's number moved among the subjects, or a field more at the end, is another entry."""
    told(NUMBER)
    [entry] = linked_entries(transaction.get_connection())
    before = bytes.fromhex(entry["before"])
    own = verifier.entry_bytes(before, 1, entry)
    for other in (
        {"request": ""},
        {"request": "", "subjects": [NUMBER]},
        {"request": "", "detail": entry["detail"] + NUMBER},
    ):
        assert verifier.entry_bytes(before, 1, entry | other) != own


@pytest.mark.parametrize("request_there", [NUMBER, ""])
@pytest.mark.parametrize("put", [None, "", "11111111"])
def test_a_number_that_was_changed_taken_or_added_is_found(request_there: str, put: str | None) -> None:
    event = told(request_there)
    assert list(check_history(bytes(32))) == []
    change_unguarded("UPDATE audit_event SET request = %s WHERE id = %s", put, event.pk)
    wrong = (request_there or None) != put
    assert list(check_history(bytes(32))) == (["entry 1: it is not what was recorded."] if wrong else [])


def test_a_chain_from_before_goes_on_verifying() -> None:
    """As it was written by the program that knew no requests."""
    first = record(actor=None, verb="a.b", sentence="did something")
    link_events(transaction.get_connection(), [first.pk], entries_without_requests)
    told(NUMBER)
    assert list(check_history(bytes(32))) == []
    first_entry, _ = linked_entries(transaction.get_connection())
    assert bytes(Link.objects.get(number=1).hash).hex() == hashed(first_entry)


def test_an_old_export_and_a_new_one_are_both_read(tmp_path: Path) -> None:
    told(NUMBER)
    file = tmp_path / "history.jsonl"
    assert export_history(file) == 1
    [entry] = verifier.read_history(str(file))
    assert entry["request"] == NUMBER
    old = {name: value for name, value in entry.items() if name != "request"}
    old["hash"] = hashed({**old, "request": ""})
    file.write_text(json.dumps({"history": 1}) + "\n" + json.dumps(old) + "\n")
    assert list(verifier.history_findings(verifier.read_history(str(file)), [])) == []
    file.write_text(json.dumps({"history": 3}) + "\n")
    with pytest.raises(ValueError, match="known here"):
        list(verifier.read_history(str(file)))


def test_a_proof_holds_the_number(tmp_path: Path) -> None:
    told(NUMBER)
    checkpoint = sign_history()
    proof = prove_entry(1)
    key = bytes.fromhex(checkpoint["key"])
    assert list(verifier.proof_findings(proof, key)) == []
    altered = proof | {"entry": proof["entry"] | {"request": "22222222"}}
    assert list(verifier.proof_findings(altered, key)) == ["The entry is not in the history that was signed."]


def test_a_moment_is_the_same_in_every_zone() -> None:
    row = (1, "2031-01-02T03:04:05+02:00", None, "x", None, "a.b", "c", "{}", None)
    assert as_entry(row, [])["at"] == "2031-01-02T01:04:05.000000+00:00"


def test_a_receipt_of_a_damaged_checkpoint_names_the_entry_alone(checkpoints: Path) -> None:
    event = told()
    sign_history()
    [file] = checkpoints.glob("*.json")
    file.unlink()
    file.write_text("{")
    witness = witness_of(event)
    assert witness is not None
    assert (witness.number, witness.proof, str(Head.objects.get())) == (1, "", "1 entries")


def test_an_entry_that_tells_of_a_signing_without_its_digest_is_no_error() -> None:
    told()
    sign_history()
    wrong = record(actor=None, verb="history.signed", sentence="signed something", detail={"size": 1})
    link_events(transaction.get_connection(), [wrong.pk])
    assert any("tells of is missing" in finding for finding in check_history())


def test_without_its_key_an_export_says_so(tmp_path: Path) -> None:
    told()
    with pytest.raises(CommandError, match=r"history\.key back"):
        call_command("export_history", str(tmp_path / "history.jsonl"), stdout=StringIO())


def test_the_tree_of_what_is_and_what_was() -> None:
    """Trees of one size, and no way between two where one is needed (RFC 9162 section 2.1.4.2)."""
    assert verifier.is_consistent(3, b"r" * 32, 3, b"r" * 32, [])
    assert not verifier.is_consistent(3, b"r" * 32, 3, b"s" * 32, [])
    assert not verifier.is_consistent(3, b"r" * 32, 5, b"s" * 32, [])
    blank: dict[str, Any] = {"root": "aa" * 32, "at": "", "before": "", "consistency": [], "signature": ""}
    first, second = blank | {"size": 3}, blank | {"size": 5}
    second["before"] = verifier.checkpoint_digest(first)
    found = list(verifier.checkpoint_findings([first, second], bytes(32), lambda *_arguments: True))
    assert found == ["checkpoint 5: its tree does not begin with the tree of the checkpoint before it."]
    proof = {"entry": {**dict.fromkeys(FIELDS, ""), "before": "", "number": 1, "subjects": []}, "path": []}
    assert "The checkpoint's signature is not of this key." in list(
        verifier.proof_findings(proof | {"checkpoint": first | {"signature": "00"}}, bytes(32))
    )


def test_an_export_without_checkpoints_proves_nothing(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    told()
    export_history(tmp_path / "history.jsonl")
    assert verifier.main([str(tmp_path / "history.jsonl"), "--key", "00" * 32]) == 1
    assert "no checkpoint to check against" in capsys.readouterr().out


def test_a_receipt_of_another_entry_proves_nothing() -> None:
    event = told()
    checkpoint = sign_history()
    witness = witness_of(event)
    assert witness is not None
    assert list(verifier.receipt_findings(witness.proof, [checkpoint])) == []
    number, _, rest = witness.proof.split(":", 2)
    other = f"{number}:{'ab' * 32}:{rest}"
    assert list(verifier.receipt_findings(other, [checkpoint])) == [
        "The entry is not in the history that was signed."
    ]


def test_what_history_is_made_of_says_what_it_is() -> None:
    site = Site(id=UUID(int=7))
    event = told(subjects=[site])
    subject, link = event.subjects.get(), Link.objects.get()
    assert str(event).endswith("keyctl: did something")
    assert (str(subject), str(link)) == (f"places.site {site.pk}", "entry 1")


def test_a_receipt_without_its_checkpoint_proves_nothing() -> None:
    told()
    printed = f"1:{'ab' * 32}:9:"
    assert list(verifier.receipt_findings(printed, [])) == ["There is no checkpoint of 9 entries."]


def test_where_nothing_happened_nothing_is_wrong() -> None:
    """Right after the migrations there is a head that says so, or none yet."""
    assert list(check_history()) == []
    Head.objects.create(id=1, number=0, hash=verifier.BEGINNING)
    assert list(check_history()) == []


def test_what_the_database_cannot_read_is_a_finding(monkeypatch: pytest.MonkeyPatch) -> None:
    told()

    def broken(*_arguments: Any) -> Any:
        raise DatabaseError("malformed")

    monkeypatch.setattr("keyctl.audit.checking.linked_steps", broken)
    assert list(check_history(bytes(32))) == ["history: the database cannot read it: malformed."]
