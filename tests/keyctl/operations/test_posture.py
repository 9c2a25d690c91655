"""How the installation is guarded: each check turns when what it looks at turns, and says what to do."""

import json
import re
from datetime import timedelta
from io import StringIO
from pathlib import Path
from typing import Any
from uuid import uuid4

import pytest
from allauth.mfa.models import Authenticator
from django.core.management import call_command
from django.test import Client
from django.urls import reverse
from django.utils import timezone
from pytest_django import Settings

from keyctl.accounts.models import User
from keyctl.api.models import Scope, Token
from keyctl.api.services import create_token
from keyctl.audit.checkpoints import sign_history
from keyctl.audit.services import record
from keyctl.jobs.models import Job
from keyctl.operations.backup.drilling import DRILLED
from keyctl.operations.backup.folder import name_at
from keyctl.operations.models import EstateCheck
from keyctl.operations.posture.finding import Level
from keyctl.operations.posture.rows import CHECKS, rows
from keyctl.places.models import Membership
from keyctl.places.roles import TRUSTED_WITH_SECRETS, Role
from keyctl.reveals.models import Limits, Reveal
from keyctl.vault.models import DataKey
from tests.cast import Cast
from tests.factories import make_user

GOOD, LOOK, ACT = Level


def level(name: str) -> Level:
    return found(name)[0]


def found(name: str) -> tuple[Level, str]:
    row = next(row for row in rows() if row.check.name == name)
    assert bool(row.remedy) == (row.level != GOOD)
    return row.level, row.finding.words


@pytest.fixture
def folders(tmp_path: Path, settings: Settings) -> tuple[Path, Path]:
    """Data and secrets as they should lie, in a place of this test's own."""
    data, secrets = tmp_path / "data", tmp_path / "secrets"
    data.mkdir()
    secrets.mkdir(mode=0o700)
    settings.DATA_DIR, settings.SECRETS_DIR = data, secrets
    return data, secrets


def test_a_secret_that_lies_with_the_data_or_open_to_others_is_told(
    db: None, folders: tuple[Path, Path], settings: Settings, monkeypatch: pytest.MonkeyPatch
) -> None:
    data, secrets = folders
    assert level("keys-apart") == GOOD
    (secrets / "vault.key").write_text("x")
    (secrets / "vault.key").chmod(0o640)
    assert level("keys-apart") == ACT
    (secrets / "vault.key").chmod(0o600)
    assert level("keys-apart") == GOOD
    secrets.chmod(0o750)
    assert level("keys-apart") == ACT
    secrets.chmod(0o700)
    secrets.chmod(0o550)
    monkeypatch.setenv("CREDENTIALS_DIRECTORY", str(secrets))
    assert level("keys-apart") == GOOD
    settings.SECRETS_DIR = data / "secrets"
    assert level("keys-apart") == ACT
    settings.SECRETS_DIR, settings.DATA_DIR = data, data / "inside"
    assert level("keys-apart") == ACT


def test_a_vault_without_its_key_is_told(db: None, monkeypatch: pytest.MonkeyPatch) -> None:
    assert level("vault") == GOOD
    monkeypatch.setattr("keyctl.operations.posture.keys.vault_is_open", lambda: False)
    assert level("vault") == LOOK


def test_an_old_data_key_is_told(db: None) -> None:
    assert level("data-key") == GOOD
    DataKey.objects.filter(purpose="seal").update(made_at=timezone.now() - timedelta(days=400))
    assert level("data-key") == LOOK


@pytest.mark.parametrize(
    ("address", "expected"),
    [
        ("https://keys.example", GOOD),
        ("http://127.0.0.1:8000", LOOK),
        ("http://keys.example", ACT),
        ("http://127.0.0.1.example", ACT),
        ("http://localhost.example:8000", ACT),
    ],
)
def test_an_address_without_tls_is_told(db: None, settings: Settings, address: str, expected: Level) -> None:
    settings.BASE_URL = address
    assert level("address") == expected


def test_debug_pages_and_nobody_to_write_to_are_told(db: None, settings: Settings) -> None:
    assert (level("debug"), level("contact")) == (GOOD, LOOK)
    settings.DEBUG, settings.SECURITY_CONTACT = True, "mailto:security@example.edu"
    assert (level("debug"), level("contact")) == (ACT, GOOD)


def give_factor(user: User) -> None:
    Authenticator.objects.create(user=user, type=Authenticator.Type.TOTP, data={"secret": "x"})


def test_people_without_a_second_factor_are_counted_not_named(cast: Cast, settings: Settings) -> None:
    settings.SECOND_FACTOR = "forced"
    trusted = User.objects.filter(memberships__role__in=TRUSTED_WITH_SECRETS).distinct()
    assert found("second-factor") == (
        LOOK,
        f"0 of {trusted.count()} people in roles that see or decide much have one. "
        "The others are led to it when they sign in.",
    )
    for user in trusted:
        give_factor(user)
    assert level("second-factor") == GOOD
    settings.SECOND_FACTOR = "offered"
    assert level("second-factor") == ACT


def test_a_site_with_one_administrator_is_told(cast: Cast) -> None:
    alone = found("administrators")
    assert alone[0] == LOOK
    assert cast.north.code in alone[1]
    for site in (cast.north, cast.south):
        for number in (1, 2):
            make_user(f"a{number}-{site.code}", site=site, role=Role.ADMINISTRATOR)
    assert level("administrators") == GOOD


def test_a_session_of_a_closed_account_is_told(cast: Cast, client: Client) -> None:
    client.force_login(cast.locksmith)
    client.get(reverse("home"))
    assert level("sessions") == GOOD
    User.objects.filter(pk=cast.locksmith.pk).update(is_active=False)
    assert level("sessions") == ACT


def test_tokens_that_nobody_uses_are_told(cast: Cast) -> None:
    token, _ = create_token(
        actor=cast.administrator,
        name="Invented",
        sites=[cast.north],
        scopes=[Scope.ESTATE_READ],
        expires_on=timezone.localdate() + timedelta(days=10),
    )
    assert found("tokens") == (GOOD, "Tokens that work: 1.")
    Token.objects.filter(pk=token.pk).update(created_at=timezone.now() - timedelta(days=100))
    assert level("tokens") == LOOK
    Token.objects.filter(pk=token.pk).update(last_used_at=timezone.now())
    assert level("tokens") == GOOD
    Token.objects.filter(pk=token.pk).update(revoked_at=timezone.now())
    assert found("tokens") == (GOOD, "Tokens that work: 0.")


@pytest.mark.parametrize(
    ("by", "number", "expected"), [("question", 5, LOOK), ("work", 5, GOOD), ("question", 3, GOOD)]
)
def test_one_who_used_most_of_a_quota_is_told(cast: Cast, by: str, number: int, expected: Level) -> None:
    Limits.objects.create(site=cast.north, alone_an_hour=6, alone_a_day=6)
    facts = {"kind": "core", "words": "a core", "site": cast.north, "by": by, "ground": "x"}
    for _ in range(number):
        event = record(actor=cast.locksmith, verb="x.looked", sentence="looked at a core")
        Reveal.objects.create(actor=cast.locksmith, subject_id=uuid4(), event=event, **facts)
    assert level("reveals") == expected


def test_a_missing_or_old_backup_is_told(db: None, settings: Settings, tmp_path: Path) -> None:
    settings.BACKUP_DIR = None
    assert level("backup") == LOOK
    settings.BACKUP_DIR = tmp_path
    assert level("backup") == ACT
    (tmp_path / name_at(timezone.now() - timedelta(days=3))).touch()
    assert level("backup") == ACT
    (tmp_path / name_at(timezone.now() - timedelta(hours=3))).touch()
    assert level("backup") == GOOD


def test_a_backup_never_brought_back_is_told(db: None) -> None:
    assert level("drill") == LOOK
    record(actor=None, verb=DRILLED, sentence="brought back a backup", detail={})
    assert level("drill") == GOOD


def test_what_the_nightly_look_found_is_told(db: None) -> None:
    assert level("estate") == LOOK
    EstateCheck.objects.create(seconds=1, laws=20, number=0)
    assert level("estate") == GOOD
    EstateCheck.objects.create(seconds=1, laws=20, number=2)
    assert found("estate") == (ACT, "Breaches that the last look at all data found: 2.")


def test_checkpoints_that_lie_with_the_data_are_told(
    db: None, folders: tuple[Path, Path], settings: Settings, tmp_path: Path
) -> None:
    settings.CHECKPOINT_DIR = folders[0] / "checkpoints"
    assert level("checkpoints") == ACT
    settings.CHECKPOINT_DIR = tmp_path / "elsewhere"
    settings.HISTORY_KEY_FILE = folders[1] / "history.key"
    record(actor=None, verb="x.y", sentence="did something", detail={})
    sign_history()
    assert level("checkpoints") == GOOD


def test_jobs_that_failed_lately_are_told(cast: Cast) -> None:
    assert level("jobs") == GOOD
    failed = Job(kind="x", label="x", site=cast.north, actor=cast.locksmith, state="failed")
    failed.parameters = failed.failure = b"sealed"
    failed.ended_at = timezone.now()
    failed.save()
    assert level("jobs") == LOOK
    Job.objects.update(ended_at=timezone.now() - timedelta(days=8))
    assert level("jobs") == GOOD


def test_what_cannot_be_looked_at_is_told_and_hides_nothing_else(
    db: None, monkeypatch: pytest.MonkeyPatch
) -> None:
    def breaks() -> None:
        raise OSError("/secret/place does not answer")

    monkeypatch.setattr("keyctl.operations.posture.keys.trouble_with", lambda *_: breaks())
    level_found, words = found("data-folder")
    assert level_found == LOOK
    assert "/secret/place" not in words
    assert len(rows()) == len(CHECKS)


def run(*arguments: str) -> tuple[int, str]:
    out, code = StringIO(), 0
    try:
        call_command("check_security", *arguments, stdout=out)
    except SystemExit as end:
        code = int(str(end.code))
    return code, out.getvalue()


def test_the_command_ends_with_the_worst(db: None, settings: Settings) -> None:
    settings.DEBUG = True
    code, text = run()
    assert code == ACT
    assert len(text.splitlines()) == len(CHECKS)
    told = [json.loads(line) for line in run("--json")[1].splitlines()]
    assert {each["check"]: each["level"] for each in told}["debug"] == ACT
    assert max(each["level"] for each in told) == code


def test_names_are_single_words_that_stay(db: None) -> None:
    names = [check.name for check in CHECKS]
    assert len(set(names)) == len(names)
    assert all(re.fullmatch(r"[a-z]+(-[a-z]+)*", name) for name in names)


@pytest.mark.parametrize("person", ["administrator", "officer", "auditor"])
def test_those_who_answer_for_it_read_the_page(cast: Cast, client: Client, person: str) -> None:
    client.force_login(getattr(cast, person))
    page = client.get(reverse("operations:security"))
    assert page.status_code == 200
    text = page.content.decode()
    assert all(str(check.label) in text for check in CHECKS)


@pytest.mark.parametrize("person", ["locksmith", "desk", "requester", "stranger", "manager"])
def test_nobody_else_does(cast: Cast, client: Client, person: str) -> None:
    client.force_login(getattr(cast, person))
    assert client.get(reverse("operations:security")).status_code == 403


def test_a_link_goes_only_where_the_reader_may_go(cast: Cast, client: Client) -> None:
    for person in (cast.administrator, cast.officer, cast.auditor):
        client.force_login(person)
        page: Any = client.get(reverse("operations:security"))
        for row in page.context["rows"]:
            if row.page:
                assert client.get(reverse(row.page)).status_code == 200, row.page


def test_names_are_shown_of_ones_own_sites_only(cast: Cast, client: Client) -> None:
    south = make_user("south-smith", site=cast.south, role=Role.LOCKSMITH)
    Membership.objects.filter(user=cast.officer, site=cast.south).delete()
    client.force_login(cast.officer)
    text = client.get(reverse("operations:security")).content.decode()
    assert cast.locksmith.display_name in text
    assert south.display_name not in text
    give_factor(cast.locksmith)
    page: Any = client.get(reverse("operations:security"))
    assert cast.locksmith.display_name not in {each.name for each in page.context["without_factor"]}
