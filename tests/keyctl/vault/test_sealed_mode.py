"""Without the vault's key everything runs but what needs a bitting, which says what is missing; and the key
is found again without a restart."""

import base64
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest
from django.conf import settings as configured
from django.db import transaction
from django.test import Client
from django.urls import NoReverseMatch, reverse
from pytest_django import DjangoDbBlocker, Settings

from keyctl.cores.services import move_core, pin_core
from keyctl.jobs import worker
from keyctl.jobs.execution import run_job
from keyctl.jobs.kinds import register_kind
from keyctl.jobs.models import Job
from keyctl.jobs.reaper import MOST_ATTEMPTS, reap
from keyctl.jobs.running import Running
from keyctl.jobs.selectors import failure_shown_to
from keyctl.keys.services import hand_out
from keyctl.lib.policy import Reach, declared, routes
from keyctl.places.models import Membership
from keyctl.systems.models import KeySymbol
from keyctl.vault import ring
from keyctl.vault import services as vault
from keyctl.vault.errors import Sealed
from tests import factories
from tests.cast import Cast, gather
from tests.matrix.asking import Asker, quiet
from tests.scenes import build_routes
from tests.scenes.base import Base
from tests.signing import sign_in

# Pages that are made of what is sealed: they refuse, and say why.
NEED_THE_VAULT = {
    "field:photo-picture",  # a photo
    "imports:columns",  # a file that was brought in
    "inherited:columns",  # a bitting list that was brought in
    "systems:draft-change",  # what a draft is drawn from
}


@dataclass(frozen=True)
class Scene:
    base: Base
    asker: Asker
    roles: dict[str, set[str]]

    @property
    def cast(self) -> Cast:
        return self.base.cast


@pytest.fixture(scope="module")
def made(django_db_setup: None, django_db_blocker: DjangoDbBlocker) -> Iterator[Scene]:
    with django_db_blocker.unblock(), transaction.atomic(), quiet():
        cast = gather()
        base, objects = build_routes(cast)
        sessions = {}
        for name, user in cast.everybody.items():
            client = sign_in(Client(), user)
            sessions[name] = client.cookies[configured.SESSION_COOKIE_NAME].value
        roles = {
            name: set(Membership.objects.filter(user=user).values_list("role", flat=True))
            for name, user in cast.everybody.items()
        }
        yield Scene(base, Asker(sessions, objects), roles)
        transaction.set_rollback(True)


@pytest.fixture
def scene(made: Scene, db: None) -> Scene:
    return made


@pytest.fixture
def key_file(settings: Settings, monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> Iterator[Path]:
    """Where the key belongs and is not."""
    kept = base64.urlsafe_b64encode(b"a key that only the tests know of"[:32]).decode()
    monkeypatch.delenv("KEYCTL_VAULT_KEY")
    settings.VAULT_KEY_FILE = tmp_path / "vault.key"
    yield settings.VAULT_KEY_FILE
    monkeypatch.setenv("KEYCTL_VAULT_KEY", kept)
    ring.forget()


def put_back(file: Path) -> None:
    file.write_text(base64.urlsafe_b64encode(b"a key that only the tests know of"[:32]).decode())


def may_read(scene: Scene, name: str, person: str) -> bool:
    policy = declared()[name]
    whose = policy.whose("GET")
    if whose is None or policy.reach == Reach.SCOPED:
        return False
    return policy.reach != Reach.ROLES or bool(whose & scene.roles[person])


def test_every_page_of_every_role_answers_or_says_what_is_missing(scene: Scene, key_file: Path) -> None:
    troubles, refusing, asked = [], set(), 0
    for name, _ in routes():
        readers = [person for person in scene.roles if may_read(scene, name, person)]
        for person in {*readers[:1], *readers[-1:]}:
            try:
                answer = scene.asker.ask(person, name, "GET")
            except NoReverseMatch:
                continue
            asked += 1
            text = b"".join(answer.streaming_content) if answer.streaming else answer.content
            if answer.status_code >= 500:
                troubles.append((name, person, answer.status_code))
            elif answer.status_code == 422 and text.count(b"vault is sealed") > (b"<html" in text):
                # Once on the page itself, besides the sentence that stands on every page.
                refusing.add(name)
    assert troubles == []
    assert refusing == NEED_THE_VAULT
    assert asked > 400


def test_the_staff_reads_of_it_on_every_page_and_whoever_asks_for_keys_does_not(
    scene: Scene, key_file: Path
) -> None:
    said = "No bitting can be opened."
    assert said in scene.asker.ask("locksmith", "cores:estate", "GET").content.decode()
    assert said not in scene.asker.ask("requester", "approvals:list", "GET").content.decode()
    put_back(key_file)
    assert said not in scene.asker.ask("locksmith", "cores:estate", "GET").content.decode()


@pytest.mark.parametrize("content", ["nonsense", base64.urlsafe_b64encode(bytes(32)).decode()])
def test_a_key_that_is_none_or_of_another_database_closes_no_page(
    content: str, scene: Scene, key_file: Path
) -> None:
    key_file.write_text(content)
    answer = scene.asker.ask("locksmith", "cores:estate", "GET")
    assert (answer.status_code, "No bitting can be opened" in answer.content.decode()) == (200, True)


def test_people_sign_in(scene: Scene, key_file: Path) -> None:
    client = Client()
    words = {"login": scene.cast.auditor.username, "username": scene.cast.auditor.username}
    answer = client.post(reverse("accounts:sign-in"), {**words, "password": factories.PASSWORD})
    assert answer.status_code == 302
    assert client.get(reverse("cores:estate")).status_code == 200


def test_what_needs_no_bitting_is_written(scene: Scene, key_file: Path) -> None:
    base = scene.base
    with transaction.atomic():
        core = base.core
        core.refresh_from_db()
        core.place, core.housing = "shelf", None
        core.save()
        move_core(actor=base.cast.locksmith, core=core, place="bench", version=core.version)
        copy = factories.make_copy(base.change, base.cabinet)
        handed = hand_out(actor=base.cast.desk, copy=copy, holder=base.holder, signed_as="Holder One")
        assert handed.copy.state == "held"
        transaction.set_rollback(True)


def test_what_needs_one_refuses_and_works_again_without_a_restart(scene: Scene, key_file: Path) -> None:
    core, smith = scene.base.core, scene.cast.locksmith
    with transaction.atomic():
        core.refresh_from_db()
        core.place, core.housing = "bench", None
        core.save()
        with pytest.raises(Sealed, match="is found at once"):
            pin_core(actor=smith, core=core, version=core.version)
        with pytest.raises(Sealed):
            vault.unseal(KeySymbol.objects.exclude(bitting=b"")[0], "bitting")
        put_back(key_file)
        assert pin_core(actor=smith, core=core, version=core.version).is_pinned
        transaction.set_rollback(True)


def waiting(scene: Scene, **facts: Any) -> Job:
    return factories.make_job(scene.cast.north, actor=scene.cast.locksmith, **facts)


def test_a_job_waits_for_the_key_and_is_done_when_it_is_there(
    scene: Scene, key_file: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    done: list[Any] = []

    def work(running: Running) -> dict[str, Any]:
        done.append(running.parameters)
        return {}

    register_kind("sealed-test", "Something", work)
    put_back(key_file)
    job = waiting(scene)
    Job.objects.filter(pk=job.pk).update(kind="sealed-test")
    key_file.unlink()
    assert worker.take_one() is False
    # The key goes while a worker is already at it.
    run_job(job.pk)
    job.refresh_from_db()
    assert (job.state, job.attempts, done) == (Job.State.WAITING, 0, [])
    put_back(key_file)
    run_job(job.pk)
    job.refresh_from_db()
    assert (job.state, len(done)) == (Job.State.DONE, 1)


def test_a_job_that_nobody_could_end_waits_too(scene: Scene, key_file: Path) -> None:
    put_back(key_file)
    job = waiting(scene)
    long_ago = job.asked_at.replace(year=2020)
    facts = {"state": Job.State.RUNNING, "run": job.pk, "attempts": MOST_ATTEMPTS, "heartbeat_at": long_ago}
    Job.objects.filter(pk=job.pk).update(worker="elsewhere:1", run_at=long_ago, started_at=long_ago, **facts)
    key_file.unlink()
    reap()
    job.refresh_from_db()
    assert job.state == Job.State.WAITING


def test_why_a_job_failed_is_told_when_the_key_is_back(scene: Scene, key_file: Path) -> None:
    put_back(key_file)
    job = waiting(scene)
    job.failure = vault.seal(job, "failure", "It was too long.")
    key_file.unlink()
    assert "vault is sealed" in failure_shown_to(scene.cast.locksmith, job)
    put_back(key_file)
    assert failure_shown_to(scene.cast.locksmith, job) == "It was too long."
