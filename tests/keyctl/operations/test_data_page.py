"""The page of the data, and what machines are told of backups and looks."""

from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone
from pytest_django import Settings

from keyctl.audit.services import record
from keyctl.operations import metrics
from keyctl.operations.backup.drilling import DRILLED
from keyctl.operations.backup.folder import name_at
from keyctl.operations.models import EstateCheck
from keyctl.operations.readiness import probes
from keyctl.places.models import Membership
from keyctl.places.roles import Role
from tests.cast import Cast

PLACE = "cores_core 7: forbidden by core_is_in_exactly_one_place."


@pytest.fixture
def breached(db: None) -> EstateCheck:
    breach = {
        "law": "database.rows",
        "words": "No row says what a constraint forbids",
        "remedy": "Restore it.",
        "number": 1,
        "named": [PLACE],
    }
    return EstateCheck.objects.create(
        seconds=1.5, laws=13, number=1, breaches=[breach], left_out={"vault.opens": "The vault is sealed."}
    )


def read(client: Client, cast: Cast, name: str) -> str:
    client.force_login(cast.everybody[name])
    return client.get(reverse("operations:data")).content.decode()


def test_places_are_shown_to_who_answers_for_every_site(
    client: Client, cast: Cast, breached: EstateCheck
) -> None:
    page = read(client, cast, "officer")
    assert "No row says what a constraint forbids" in page
    assert "Restore it." in page
    assert "The vault is sealed." in page
    assert PLACE not in page
    Membership.objects.create(user=cast.officer, site=cast.south, role=Role.OFFICER)
    assert PLACE in read(client, cast, "officer")


def test_backups_and_drills_are_told(client: Client, cast: Cast, settings: Settings, tmp_path: Path) -> None:
    settings.BACKUP_DIR = None
    assert "KEYCTL_BACKUP_DIR" in read(client, cast, "auditor")
    settings.BACKUP_DIR = tmp_path
    (tmp_path / name_at(datetime(2026, 3, 1, tzinfo=UTC))).write_bytes(b"0" * 2048)
    record(actor=None, verb=DRILLED, sentence="brought it back", detail={"seconds": 7.5})
    page = read(client, cast, "auditor")
    assert "1 Mar 2026" in page
    assert "in 7.5 s" in page


def test_a_locksmith_does_not_read_it(client: Client, cast: Cast) -> None:
    client.force_login(cast.locksmith)
    assert client.get(reverse("operations:data")).status_code == 403


def words_of(name: str) -> str:
    return next(probe.words for probe in probes() if probe.name == name)


def test_an_old_backup_and_a_breach_are_looked_at_by_whoever_watches(
    db: None, settings: Settings, tmp_path: Path
) -> None:
    settings.BACKUP_DIR = None
    assert (words_of("backup"), words_of("estate")) == ("good", "good")
    assert b"keyctl_backup_age_seconds" not in metrics.text()
    settings.BACKUP_DIR = tmp_path
    assert "no backup" in words_of("backup")
    assert b"keyctl_backup_age_seconds +Inf" in metrics.text()
    (tmp_path / name_at(timezone.now() - timedelta(hours=37))).touch()
    assert "no backup" in words_of("backup")
    (tmp_path / name_at(timezone.now() - timedelta(hours=35))).touch()
    assert words_of("backup") == "good"
    age = next(line for line in metrics.text().decode().splitlines() if line.startswith("keyctl_backup_age"))
    assert 35 * 3600 <= float(age.split()[1]) < 35 * 3600 + 60


def test_the_last_look_is_a_figure(breached: EstateCheck) -> None:
    told = metrics.text()
    assert b"keyctl_estate_breaches 1.0" in told
    assert b"keyctl_estate_age_seconds" in told
    assert "check_estate" in words_of("estate")
    EstateCheck.objects.create(seconds=1, laws=13, number=0)
    assert words_of("estate") == "good"
    assert b"keyctl_estate_breaches 0.0" in metrics.text()
    assert b"keyctl_drill_age_seconds" not in told
    record(actor=None, verb=DRILLED, sentence="brought it back")
    assert b"keyctl_drill_age_seconds" in metrics.text()
