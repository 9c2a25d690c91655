"""Some hundred hostile files by the ways on which people and programs send them.

Whatever is sent: no error of ours, an answer in time, a sentence; and nothing written unless it was taken.
"""

import itertools
from collections.abc import Iterator
from dataclasses import dataclass
from time import process_time
from typing import Any
from uuid import uuid4

import pytest
from django.apps import apps
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import connection, transaction
from django.test import Client
from django.urls import reverse
from pytest_django.plugin import DjangoDbBlocker

from tests.api.client import Api, make_api
from tests.cast import Cast, gather
from tests.hostile.corpus import COUNT, HostileFile, hostile_files
from tests.keyctl.field.fieldroom import tablet_of
from tests.scim.provider import Provider, make_provider
from tests.signing import sign_in

# A tenth of them, drawn by another seed than those that the readers see.
SOME = COUNT // 10
MOST_SECONDS = 2.0
REFUSED = {400, 413, 415, 422}
NEW = {
    "code": "OLD",
    "system_name": "The old house",
    "format_id": "small-a2-6",
    "keyway": "WOLD",
    "system": "",
}
CHART = {"name": "House", "format_id": "small-a2-6", "keyway": "WOLD"}
# Who is signed in, and how often somebody tried, is kept whatever comes.
KEPT_ANYHOW = {"accounts_session", "accounts_tally", "api_usage"}


@dataclass(frozen=True)
class Office:
    cast: Cast
    locksmith: Client
    administrator: Client
    api: Api
    provider: Provider


@pytest.fixture(scope="module")
def made(django_db_setup: None, django_db_blocker: DjangoDbBlocker) -> Iterator[Office]:
    with django_db_blocker.unblock(), transaction.atomic():
        cast = gather()
        tablet_of(cast.locksmith, cast.north)
        locksmith, administrator = (Client(raise_request_exception=False) for _ in range(2))
        sign_in(locksmith, cast.locksmith)
        sign_in(administrator, cast.administrator)
        for name in ("inherited:bring", "charts:begin", "field:hand-in"):
            # What is loaded with the first page of all is nobody's fault.
            assert locksmith.get(reverse(name)).status_code == 200
        programs = make_api(cast.administrator, cast.north), make_provider(cast.administrator)
        yield Office(cast, locksmith, administrator, *programs)
        transaction.set_rollback(True)


@pytest.fixture
def office(made: Office, db: None) -> Office:
    return made


def rows() -> dict[str, int]:
    """How many rows each table holds, asked at once."""
    tables = sorted(
        {model._meta.db_table for model in apps.get_models(include_auto_created=True)} - KEPT_ANYHOW
    )
    asked = " UNION ALL ".join(f"SELECT '{table}', COUNT(*) FROM \"{table}\"" for table in tables)  # noqa: S608
    with connection.cursor() as cursor:
        cursor.execute(asked)
        return dict(cursor.fetchall())


def judge(file: HostileFile, send: Any) -> int:
    """Send it inside a savepoint; what came of it, and whether it was right."""
    with transaction.atomic():
        before, began = rows(), process_time()
        response = send(file)
        spent, after = process_time() - began, rows()
        transaction.set_rollback(True)
    assert response.status_code < 500, file
    assert spent <= MOST_SECONDS, (file, spent)
    if response.status_code in REFUSED:
        assert before == after, (file, {name for name in after if after[name] != before[name]})
        assert len(told(response)) > 20, (file, told(response))
    return int(response.status_code)


def told(response: Any) -> str:
    """The sentence of a refusal, wherever it stands."""
    if "json" in response["Content-Type"]:
        return str(response.json()["detail"])
    form = (response.context or {}).get("form")
    errors = [str(each) for found in form.errors.values() for each in found] if form is not None else []
    return " ".join(errors) or str(response.context["words"])


def lists(way: str) -> Iterator[HostileFile]:
    return itertools.islice(hostile_files("list", salt=way), SOME * 65 // 300)


def upload(file: HostileFile, name: str = "list.csv") -> SimpleUploadedFile:
    return SimpleUploadedFile(name, file.content, content_type="text/csv")


@pytest.mark.parametrize("way", ["inherited:bring", "directory:bring", "charts:begin"])
def test_a_list_is_taken_or_refused_in_words(office: Office, way: str) -> None:
    client = office.administrator if way == "directory:bring" else office.locksmith
    facts = {"inherited:bring": NEW, "directory:bring": {}, "charts:begin": CHART}[way]
    facts = facts | {"site": str(office.cast.north.pk)}
    found = [
        judge(file, lambda file: client.post(reverse(way), facts | {"file": upload(file)}))
        for file in lists(way)
    ]
    assert set(found) <= REFUSED | {302}
    assert REFUSED & set(found)


def test_a_photo_is_taken_or_refused_in_words(office: Office) -> None:
    def put(file: HostileFile) -> Any:
        address = reverse("field:photo", args=[uuid4()])
        return office.locksmith.put(address, file.content, content_type="image/jpeg")

    photos = itertools.islice(hostile_files("photo", salt="page"), SOME * 15 // 100)
    found = [judge(file, put) for file in photos]
    assert set(found) <= REFUSED | {201}
    assert {201, 422} <= set(found)


def test_what_a_tablet_exported_is_taken_or_refused_in_words(office: Office) -> None:
    def hand_in(file: HostileFile) -> Any:
        return office.locksmith.post(reverse("field:hand-in"), {"file": upload(file, "outbox.json")})

    files = itertools.islice(hostile_files("json", salt="file"), SOME * 20 // 100)
    found = [judge(file, hand_in) for file in files]
    assert set(found) <= REFUSED | {200}
    assert {200, 422} <= set(found)


def test_a_batch_of_a_tablet_is_taken_or_refused_in_words(office: Office) -> None:
    def send(file: HostileFile) -> Any:
        return office.locksmith.post(reverse("field:events"), file.content, content_type="application/json")

    files = itertools.islice(hostile_files("json", salt="batch"), SOME * 20 // 100)
    found = [judge(file, send) for file in files]
    assert set(found) <= REFUSED | {200}
    assert {200, 400} <= set(found)


def test_a_body_of_the_api_is_refused_in_words(office: Office) -> None:
    def post(file: HostileFile) -> Any:
        return office.api.send("POST", "work-orders/", file.content, content_type="application/json")

    files = itertools.islice(hostile_files("json", salt="api"), SOME * 20 // 100)
    assert {judge(file, post) for file in files} <= REFUSED


@pytest.mark.parametrize("path", ["Users", "Users/.search"])
def test_a_body_of_an_identity_provider_is_refused_in_words(office: Office, path: str) -> None:
    def post(file: HostileFile) -> Any:
        return office.provider.send("POST", path, file.content)

    files = itertools.islice(hostile_files("json", salt="scim"), SOME * 10 // 100)
    assert {judge(file, post) for file in files} <= REFUSED | {200}


def test_the_sets_are_not_those_that_the_readers_see() -> None:
    first = {file.content for file in itertools.islice(hostile_files("list"), 50)}
    assert len(first & {file.content for file in lists("charts:begin")}) < 25
