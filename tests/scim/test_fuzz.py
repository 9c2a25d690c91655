"""Requests made up from what RFC 7644 says: none breaks anything, and every answer is as it says."""

from collections.abc import Iterator
from dataclasses import dataclass

import pytest
from django.db import transaction
from pytest_django import DjangoDbBlocker
from schemathesis import GenerationMode

from tests.api.client import make_api
from tests.api.fuzzing import CASES, Piece, pieces, run
from tests.cast import gather
from tests.scim.description import PATHS, description
from tests.scim.provider import make_provider

OPERATIONS = [
    (method, path) for path, methods in PATHS.items() for method in methods if method != "parameters"
]
PIECES = list(pieces({each: 30 if each[0] == "patch" else 10 for each in OPERATIONS}, CASES // 4))


@dataclass(frozen=True)
class World:
    people: list[str]
    bearers: list[str]


@pytest.fixture(scope="module")
def made(django_db_setup: None, django_db_blocker: DjangoDbBlocker) -> Iterator[World]:
    with django_db_blocker.unblock(), transaction.atomic():
        cast = gather()
        provider = make_provider(cast.administrator)
        people = [str(provider.create(name)["id"]) for name in ("ada@example.org", "grace@example.org")]
        without = make_api(cast.administrator, cast.north)
        bearers = [*([f"Bearer {provider.bearer}"] * 5), f"Bearer {without.bearer}", "Bearer kc_nobody"]
        yield World(people, bearers)
        transaction.set_rollback(True)


@pytest.mark.parametrize("piece", PIECES, ids=str)
def test_no_request_breaks_the_directory(piece: Piece, made: World, db: None) -> None:
    answers = run(piece, description(), {"id": made.people}, made.bearers)
    assert max(answers) < 500
    if piece.mode is GenerationMode.POSITIVE and piece.number >= 50:
        assert {status for status in answers if status < 300}, answers
