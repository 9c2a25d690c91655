"""What a proxy and a watcher ask: neither signs in, and neither learns of a door, a key or a person."""

import base64
from collections.abc import Callable
from contextlib import AbstractContextManager
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest
from django.db import DatabaseError, connection
from django.db.migrations.recorder import MigrationRecorder
from django.test import Client
from django.utils import timezone
from prometheus_client.parser import text_string_to_metric_families
from pytest_django import DjangoAssertNumQueries, Settings

from keyctl.jobs.models import WorkerSign
from keyctl.operations import readiness
from tests.cast import Cast


def test_the_process_says_that_it_lives_without_asking_the_database(client: Client) -> None:
    # No mark of the database on this test: a query would fail it.
    answer = client.get("/health/live")
    assert (answer.status_code, answer.content) == (200, b"alive\n")


def test_a_ready_installation_names_what_else_to_look_at(client: Client, db: None) -> None:
    told = client.get("/health/ready")
    assert told.status_code == 200
    assert told.json()["ready"] is True
    probes = told.json()["probes"]
    assert probes["database"] == probes["tables"] == probes["room"] == probes["vault"] == "good"
    assert "manage.py work" in probes["worker"]


def test_a_worker_that_gave_a_sign_is_seen_until_it_is_silent(client: Client, db: None) -> None:
    sign = WorkerSign.objects.create(name="here:1", seen_at=timezone.now())
    assert client.get("/health/ready").json()["probes"]["worker"] == "good"
    WorkerSign.objects.filter(pk=sign.pk).update(seen_at=timezone.now() - timedelta(minutes=5))
    assert client.get("/health/ready").json()["probes"]["worker"] != "good"


def test_a_database_that_does_not_answer_is_not_ready(
    client: Client, db: None, monkeypatch: pytest.MonkeyPatch
) -> None:
    def away(*_args: Any, **_kwargs: Any) -> None:
        raise DatabaseError("361492 was not found")

    with monkeypatch.context() as patch:
        patch.setattr(connection, "cursor", away)
        answer = client.get("/health/ready")
    assert answer.status_code == 503
    assert answer.json() == {"ready": False, "probes": {"database": "The database does not answer."}}


def test_too_little_room_is_not_ready(client: Client, db: None, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(readiness, "LEAST_ROOM", 1 << 62)
    answer = client.get("/health/ready")
    assert answer.status_code == 503
    assert "make room" in answer.json()["probes"]["room"]


def test_tables_that_are_behind_are_not_ready(client: Client, db: None, settings: Settings) -> None:
    # Tables that are made from the models note no migrations; those of `--migrations` note all.
    settings.MIGRATION_MODULES = {}
    records = MigrationRecorder(connection)
    if records.has_table():
        records.flush()
    answer = client.get("/health/ready")
    assert answer.status_code == 503
    assert "manage.py migrate" in answer.json()["probes"]["tables"]


def test_a_sealed_vault_is_told_and_requests_are_still_served(
    client: Client, db: None, settings: Settings, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.delenv("KEYCTL_VAULT_KEY")
    settings.VAULT_KEY_FILE = tmp_path / "none"
    answer = client.get("/health/ready")
    assert answer.status_code == 200
    assert "sealed" in answer.json()["probes"]["vault"]


@pytest.mark.parametrize("key", ["too short", base64.urlsafe_b64encode(b"7" * 32).decode()])
def test_a_key_that_opens_nothing_is_told_too(
    client: Client, db: None, monkeypatch: pytest.MonkeyPatch, key: str
) -> None:
    monkeypatch.setenv("KEYCTL_VAULT_KEY", key)
    answer = client.get("/health/ready")
    assert answer.status_code == 200
    assert answer.json()["probes"]["vault"] != "good"


@pytest.mark.django_db
class TestFigures:
    def test_prometheus_own_reader_understands_them(self, client: Client) -> None:
        client.get("/health/live")
        text = client.get("/metrics").content.decode()
        families = {family.name: family for family in text_string_to_metric_families(text)}
        good = {sample.labels["probe"]: sample.value for sample in families["keyctl_good"].samples}
        assert good["database"] == 1
        assert good["worker"] == 0
        states = {sample.labels["state"] for sample in families["keyctl_jobs"].samples}
        assert states >= {"waiting", "running", "done"}
        counted = [s for s in families["keyctl_request_seconds"].samples if s.name.endswith("_count")]
        assert any(sample.labels["route"] == "operations:live" for sample in counted)

    def test_they_name_no_thing(self, client: Client, cast: Cast) -> None:
        client.force_login(cast.locksmith)
        client.get(f"/places/sites/{cast.north.pk}/")
        client.get("/Q/ABCD2345")
        text = client.get("/metrics").content.decode()
        assert str(cast.north.pk) not in text
        assert "ABCD2345" not in text

    def test_from_elsewhere_they_are_not_found(self, client: Client) -> None:
        assert client.get("/metrics", REMOTE_ADDR="192.0.2.7").status_code == 404

    def test_behind_a_proxy_loopback_proves_nothing(self, client: Client, settings: Settings) -> None:
        settings.BEHIND_PROXY = True
        assert client.get("/metrics").status_code == 404

    def test_a_token_opens_them_and_its_lack_closes_them(self, client: Client, settings: Settings) -> None:
        settings.METRICS_TOKEN = "for-the-watcher"
        assert client.get("/metrics").status_code == 404
        wrong = client.get("/metrics", headers={"Authorization": "Bearer for-the-watchers"})
        assert wrong.status_code == 404
        right = client.get(
            "/metrics", headers={"Authorization": "Bearer for-the-watcher"}, REMOTE_ADDR="192.0.2.7"
        )
        assert right.status_code == 200

    def test_an_invented_method_makes_no_series(self, client: Client) -> None:
        client.generic("BREW", "/health/live")
        assert "BREW" not in client.get("/metrics").content.decode()


def test_a_page_asks_no_more_than_before_for_its_number(
    client: Client,
    cast: Cast,
    django_assert_num_queries: DjangoAssertNumQueries,
    writes: Callable[[], AbstractContextManager[list[str]]],
) -> None:
    with writes() as written, django_assert_num_queries(0):
        client.get("/health/live")
    assert written == []
