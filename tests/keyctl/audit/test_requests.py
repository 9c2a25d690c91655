"""An event names the request it was written in; what was hashed before there were any goes on verifying."""

import json
from hashlib import sha256
from pathlib import Path
from typing import Any

import pytest
import structlog
from django.db import transaction

from keyctl.audit import guards, verifier
from keyctl.audit.chain import link_events
from keyctl.audit.checking import check_history
from keyctl.audit.checkpoints import sign_history
from keyctl.audit.entries import entries_without_requests, linked_entries
from keyctl.audit.models import Event, Link
from keyctl.audit.proofs import export_history, prove_entry
from keyctl.audit.services import record

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


def change(sql: str, *values: Any) -> None:
    database = transaction.get_connection()
    guards.remove(database)
    with database.cursor() as cursor:
        cursor.execute(sql, values)
    guards.install(database)


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
    change("UPDATE audit_event SET request = %s WHERE id = %s", put, event.pk)
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
