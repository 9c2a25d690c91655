"""The page of an event with its proof, and the administrator's page of the state of history."""

import json
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest
from django.db import transaction
from django.test import Client
from django.urls import reverse
from pytest_django import Settings

from keyctl.audit.chain import link_events
from keyctl.audit.checkpoints import sign_history
from keyctl.audit.models import Event
from keyctl.audit.services import record
from keyctl.operations.history.state import fingerprint_of
from tests.cast import Cast
from tests.signing import sign_in

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def _own_folder(settings: Settings, tmp_path: Path) -> None:
    settings.HISTORY_KEY_FILE = tmp_path / "history.key"
    settings.CHECKPOINT_DIR = tmp_path / "checkpoints"


def linked(event: Event) -> Event:
    link_events(transaction.get_connection(), [event.pk])
    return event


def at_north(cast: Cast) -> Event:
    return linked(
        record(
            actor=cast.locksmith,
            verb="a.b",
            sentence="did a thing",
            site_id=cast.north.pk,
            subjects=[cast.north],
        )
    )


def codes(cast: Cast, address: str) -> dict[str, int]:
    return {name: sign_in(Client(), user).get(address).status_code for name, user in cast.everybody.items()}


def test_the_staff_of_its_site_read_it(cast: Cast) -> None:
    event = at_north(cast)
    staff = dict.fromkeys(["locksmith", "desk", "manager", "officer", "auditor", "administrator"], 200)
    expected = {**staff, "requester": 403, "stranger": 404}
    assert codes(cast, reverse("history:event", args=[event.pk])) == expected


def test_what_belongs_to_no_site_is_read_by_who_answers_for_one(cast: Cast) -> None:
    event = linked(record(actor=None, verb="a.b", sentence="did a thing"))
    readers = {
        name for name, code in codes(cast, reverse("history:event", args=[event.pk])).items() if code == 200
    }
    assert readers == {"officer", "auditor", "administrator"}


def test_before_it_is_signed_the_page_says_when(cast: Cast, client: Client) -> None:
    event = at_north(cast)
    sign_in(client, cast.auditor)
    page = client.get(reverse("history:event", args=[event.pk])).content.decode()
    assert "At the next hour" in page
    assert "Download" not in page
    refused = client.get(reverse("history:proof", args=[event.pk]))
    assert (refused.status_code, "not signed yet" in refused.content.decode()) == (422, True)


def test_the_files_that_it_offers_prove_it_without_the_product(
    cast: Cast, client: Client, tmp_path: Path
) -> None:
    event = at_north(cast)
    key = sign_history()["key"]
    sign_in(client, cast.auditor)
    page = client.get(reverse("history:event", args=[event.pk])).content.decode()
    for said in (reverse("history:proof", args=[event.pk]), reverse("history:verifier"), key, "up to 1"):
        assert said in page
    assert fingerprint_of(bytes.fromhex(key)) in page
    proof = client.get(reverse("history:proof", args=[event.pk]))
    assert proof.headers["Content-Disposition"] == 'attachment; filename="proof-1.json"'
    (tmp_path / "proof.json").write_bytes(proof.content)
    (tmp_path / "verifier.py").write_bytes(client.get(reverse("history:verifier")).content)
    check = [sys.executable, "-I", "verifier.py", "--proof", "proof.json", "--key", key]
    done = subprocess.run(check, cwd=tmp_path, capture_output=True, check=False)  # noqa: S603
    assert (done.returncode, done.stdout) == (0, b"Nothing is wrong.\n")
    told = json.loads(proof.content)
    told["entry"]["sentence"] = "did another thing"
    (tmp_path / "proof.json").write_text(json.dumps(told))
    assert subprocess.run(check, cwd=tmp_path, capture_output=True, check=False).returncode == 1  # noqa: S603


def test_an_event_in_no_entry_is_told_as_what_it_is(cast: Cast, client: Client) -> None:
    event = record(actor=cast.locksmith, verb="a.b", sentence="did a thing", site_id=cast.north.pk)
    sign_in(client, cast.auditor)
    assert "past the program" in client.get(reverse("history:event", args=[event.pk])).content.decode()
    assert client.get(reverse("history:proof", args=[event.pk])).status_code == 422


def test_a_checkpoint_that_cannot_be_read_is_named(cast: Cast, client: Client, settings: Settings) -> None:
    event = at_north(cast)
    sign_history()
    [file] = settings.CHECKPOINT_DIR.glob("*.json")
    file.unlink()
    file.write_text("{")
    sign_in(client, cast.administrator)
    for address in (reverse("history:event", args=[event.pk]), reverse("history:state")):
        assert "cannot be read as a checkpoint" in client.get(address).content.decode()


def test_without_the_key_file_the_noted_key_checks(cast: Cast, client: Client, settings: Settings) -> None:
    event = at_north(cast)
    sign_history()
    settings.HISTORY_KEY_FILE.unlink()
    sign_in(client, cast.auditor)
    page = client.get(reverse("history:event", args=[event.pk])).content.decode()
    assert "check with the public key that was noted" in page


def test_lines_of_history_lead_there_for_whoever_may_follow(cast: Cast, client: Client) -> None:
    from tests import factories

    system = factories.make_system(cast.north, actor=cast.locksmith)
    core = factories.make_core(actor=cast.locksmith, site=cast.north, system=system)
    event = Event.objects.filter(subjects__subject_id=core.pk).latest("pk")
    sign_in(client, cast.auditor)
    page = client.get(reverse("cores:detail", args=[core.pk])).content.decode()
    assert f'href="{reverse("history:event", args=[event.pk])}"' in page


def test_the_state_of_history_is_the_administrators(cast: Cast, client: Client, settings: Settings) -> None:
    allowed = {name for name, code in codes(cast, reverse("history:state")).items() if code == 200}
    assert allowed == {"administrator"}
    sign_in(client, cast.administrator)
    assert "None yet: the worker signs every hour" in client.get(reverse("history:state")).content.decode()
    at_north(cast)
    checkpoint: Any = sign_history()
    page = client.get(reverse("history:state")).content.decode()
    for said in (str(settings.CHECKPOINT_DIR), checkpoint["key"], "up to entry 1", "Check the whole history"):
        assert said in page
