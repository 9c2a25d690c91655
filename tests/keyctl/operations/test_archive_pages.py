"""An archive by pages: two people, a passphrase that nobody keeps, a fresh sign-in, a file for some days."""

import json
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest
from django.core.exceptions import PermissionDenied
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from keyctl.accounts.models import User
from keyctl.audit.models import Event
from keyctl.jobs.models import Job
from keyctl.lib.errors import Conflict, Refused
from keyctl.operations.archive import container, services
from keyctl.operations.archive.container import Cost, open_lock, read_archive
from keyctl.operations.archive.keeping import forget_old_files, place_of
from keyctl.operations.archive.taking import import_archive
from keyctl.operations.archive.telling import canonical_digest
from keyctl.operations.models import EstateArchive, EstateArchiveFile
from keyctl.places.models import Membership, Site
from keyctl.places.roles import Role
from keyctl.reveals.errors import Missing
from keyctl.reveals.models import Reveal
from keyctl.vault import services as vault
from tests.jobs import finish
from tests.keyctl.operations.conftest import Estate
from tests.keyctl.operations.installations import installation
from tests.permits import grant_what_waits
from tests.signing import proven, sign_in

PASSPHRASE = "six words that nobody drew by lot"
PAGE = reverse("operations:archive")

pytestmark = pytest.mark.usefixtures("quick_laws")


@pytest.fixture(autouse=True)
def cheap_guesses(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(container, "COST", Cost(memory_kib=64, passes=1, lanes=1))


@pytest.fixture
def keeper(estate: Estate) -> User:
    """Administers every site."""
    user = estate.cast.administrator
    for site in Site.objects.all():
        Membership.objects.get_or_create(user=user, site=site, role=Role.ADMINISTRATOR)
    return user


def asked(keeper: User) -> EstateArchive:
    return services.ask_archive(actor=keeper, reason="We move house")


def act(client: Client, name: str, archive: EstateArchive, **said: str) -> Any:
    return client.post(reverse(f"operations:archive-{name}", args=[archive.pk]), said)


def words(answer: Any) -> str:
    text: str = answer.content.decode()
    return text


def test_asked_permitted_made_fetched_and_imported(
    keeper: User, client: Client, settings: Any, tmp_path: Path, django_db_blocker: Any
) -> None:
    sign_in(client, keeper)
    assert client.post(PAGE, {"reason": "We move house"}).status_code == 302
    archive = EstateArchive.objects.latest("asked_at")
    assert "Wait for a security officer" in words(client.get(PAGE))
    assert act(client, "make", archive, passphrase=PASSPHRASE, again=PASSPHRASE).status_code == 422
    grant_what_waits()
    assert "Have it made" in words(client.get(PAGE))
    answer = act(client, "make", archive, passphrase=PASSPHRASE, again=PASSPHRASE)
    job = Job.objects.get(kind=services.JOB)
    assert answer.headers["Location"] == reverse("jobs:detail", args=[job.pk])
    assert finish(job).state == Job.State.DONE, job.words
    file = EstateArchiveFile.objects.get(archive=archive)
    assert file.digest in words(client.get(PAGE))
    fetched = act(client, "fetch", archive)
    content = b"".join(fetched.streaming_content)
    assert f'filename="{archive.file_name}"' in fetched.headers["Content-Disposition"]
    assert file.digest == told_canonical(place_of(archive))
    verbs = list(Event.objects.order_by("-id").values_list("verb", flat=True)[:6])
    assert verbs[0] == "archive.fetched"
    assert "archive.exported" in verbs
    assert Reveal.objects.get(kind=services.KIND).second is not None
    there = tmp_path / "fetched"
    there.write_bytes(content)
    settings.CHECKPOINT_DIR = tmp_path / "checkpoints-elsewhere"
    with installation(tmp_path / "elsewhere", django_db_blocker):
        import_archive(there, PASSPHRASE)
        assert canonical_digest() == file.digest
        # What lies in the folder of one installation is not said of another.
        assert EstateArchive.objects.filter(pk=archive.pk, file=None).exists()
    act(client, "delete", archive)
    assert not place_of(archive).exists()
    assert act(client, "fetch", archive).status_code == 302


def told_canonical(file: Path) -> str:
    *_, last = read_archive(file, open_lock(file, PASSPHRASE))
    end: str = json.loads(last)["end"]
    return end


def test_only_who_administers_every_site(estate: Estate, keeper: User, client: Client) -> None:
    for who, user in estate.cast.everybody.items():
        sign_in(client, user)
        expected = 200 if user == keeper else 403
        assert client.get(PAGE).status_code == expected, who
    Membership.objects.filter(user=keeper, site=estate.cast.south).delete()
    sign_in(client, keeper)
    assert client.get(PAGE).status_code == 403
    with pytest.raises(PermissionDenied):
        asked(keeper)


def test_it_takes_a_second_person_and_a_fresh_sign_in(keeper: User, client: Client) -> None:
    archive = asked(keeper)
    facts: Any = {"actor": keeper, "archive": archive, "passphrase": PASSPHRASE, "again": PASSPHRASE}
    with pytest.raises(Missing, match="second person"):
        services.start_archive(**facts, sign_in=proven(keeper))
    grant_what_waits()
    sign_in(client, keeper, ago=600)
    answer = act(client, "make", archive, passphrase=PASSPHRASE, again=PASSPHRASE)
    assert answer.status_code in {302, 403}
    assert not EstateArchiveFile.objects.filter(archive=archive).exists()
    services.start_archive(**facts, sign_in=proven(keeper))
    with pytest.raises(Conflict, match="being made"):
        services.start_archive(**facts, sign_in=proven(keeper))


def test_a_passphrase_that_is_weak_or_mistyped_starts_nothing(keeper: User, client: Client) -> None:
    archive = asked(keeper)
    grant_what_waits()
    sign_in(client, keeper)
    for first, second, said in (
        ("short", "short", "too short"),
        (PASSPHRASE, PASSPHRASE + "x", "two passphrases differ"),
    ):
        answer = act(client, "make", archive, passphrase=first, again=second)
        assert answer.status_code == 422
        assert said in words(answer)
        assert PASSPHRASE not in words(answer)
    assert not EstateArchiveFile.objects.filter(archive=archive).exists()


def test_the_passphrase_is_kept_nowhere(estate: Estate, keeper: User) -> None:
    """In the file of the database, open or sealed: what the job is handed is not the passphrase."""
    archive = asked(keeper)
    grant_what_waits()
    facts: Any = {"actor": keeper, "archive": archive, "passphrase": PASSPHRASE, "again": PASSPHRASE}
    job = services.start_archive(**facts, sign_in=proven(keeper))
    assert PASSPHRASE not in vault.unseal(job, "parameters")
    finish(job)
    folder = estate.file.parent
    held = b"".join(path.read_bytes() for path in folder.iterdir() if path.is_file())
    assert PASSPHRASE.encode() not in held
    assert place_of(archive).stat().st_mode & 0o077 == 0


def test_rights_that_ended_while_the_job_waited(estate: Estate, keeper: User) -> None:
    archive = asked(keeper)
    grant_what_waits()
    facts: Any = {"actor": keeper, "archive": archive, "passphrase": PASSPHRASE, "again": PASSPHRASE}
    job = services.start_archive(**facts, sign_in=proven(keeper))
    Membership.objects.filter(user=keeper, site=estate.cast.south).delete()
    assert finish(job).state == Job.State.FAILED
    assert not place_of(archive).exists()


def test_nobody_fetches_what_another_asked_for(estate: Estate, keeper: User, client: Client) -> None:
    archive = asked(keeper)
    EstateArchiveFile.objects.create(
        archive=archive, made_at=timezone.now(), bytes=3, rows=1, digest="a" * 64
    )
    place_of(archive).write_bytes(b"abc")
    other = User.objects.create_user(f"other-{archive.number}", display_name="Other")
    for site in Site.objects.all():
        Membership.objects.create(user=other, site=site, role=Role.ADMINISTRATOR)
    sign_in(client, other)
    for name in ("make", "fetch", "delete"):
        assert act(client, name, archive, passphrase=PASSPHRASE, again=PASSPHRASE).status_code == 404
    sign_in(client, keeper, ago=600)
    assert act(client, "fetch", archive).status_code != 200
    assert place_of(archive).exists()


def test_an_old_file_goes_by_itself(keeper: User) -> None:
    archive = asked(keeper)
    now = timezone.now()
    EstateArchiveFile.objects.create(archive=archive, made_at=now, bytes=3, rows=1, digest="a" * 64)
    place_of(archive).write_bytes(b"abc")
    forget_old_files(now + timedelta(days=6))
    assert place_of(archive).exists()
    assert "deleted: 0" not in forget_old_files(now + timedelta(days=8))
    assert not place_of(archive).exists()
    with pytest.raises(Refused, match="no file"):
        services.fetch_archive(actor=keeper, archive=archive, sign_in=proven(keeper))
