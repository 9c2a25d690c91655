"""Thousands of requests made up from the description: none breaks anything, and every answer is as described.

Schemathesis makes them up and judges. That they are not all turned away at the door is held as well.
"""

from collections.abc import Iterator
from dataclasses import dataclass

import pytest
from django.db import transaction
from pytest_django import DjangoDbBlocker
from schemathesis import GenerationMode

from keyctl.api.models import Scope
from keyctl.places.roles import Role
from tests.api.client import make_api
from tests.api.estate import Estate, build
from tests.api.fuzzing import CASES, Piece, pieces, run
from tests.api.walk import description, known
from tests.cast import gather
from tests.factories import make_user

OPERATIONS = [(method, path) for path, methods in description()["paths"].items() for method in methods]


def weight(method: str, path: str) -> int:
    """What takes a body has more to get wrong than what takes an identifier."""
    if method == "post":
        return 40
    return 4 if "{id}" in path else 10


# The other interface takes the rest: tests/scim/test_fuzz.py.
PIECES = list(pieces({each: weight(*each) for each in OPERATIONS}, CASES * 3 // 4))


@dataclass(frozen=True)
class World:
    estate: Estate
    bearers: list[str]


@pytest.fixture(scope="module")
def made(django_db_setup: None, django_db_blocker: DjangoDbBlocker) -> Iterator[World]:
    with django_db_blocker.unblock(), transaction.atomic():
        cast = gather()
        estate = build(cast.north, cast.locksmith)
        south = make_user("south-administrator", site=cast.south, role=Role.ADMINISTRATOR)
        few = ([Scope.ESTATE_READ], [Scope.ORDERS_READ], [Scope.ORDERS_WRITE])
        apis = [
            make_api(cast.administrator, cast.north, scopes=scopes) for scopes in (None, None, None, *few)
        ]
        apis.append(make_api(south, cast.south))
        bearers = [f"Bearer {api.bearer}" for api in apis]
        yield World(estate, [*bearers, "Bearer kc_nobody", "Basic eDp5"])
        transaction.set_rollback(True)


def names(estate: Estate, path: str) -> dict[str, list[str]]:
    """What exists, by the names that parameters and bodies have for it; `id` is what the path is about."""
    ids = {word: [str(pk)] for word, pk in known(estate).items()}
    ids["cores"].append(str(estate.spare.pk))
    singular = {word.removesuffix("s").replace("work-order", "order"): pks for word, pks in ids.items()}
    return {**ids, **singular, "id": ids[path.split("/")[3]]}


@pytest.mark.parametrize("piece", PIECES, ids=str)
def test_no_request_breaks_the_api(piece: Piece, made: World, db: None) -> None:
    answers = run(piece, description(), names(made.estate, piece.path), made.bearers)
    assert max(answers) < 500
    if piece.mode is GenerationMode.POSITIVE and piece.number >= 50:
        assert {status for status in answers if status < 300}, answers


def test_as_many_are_made_up_as_promised() -> None:
    assert sum(piece.number for piece in PIECES) >= CASES * 3 // 4
    assert {(piece.method, piece.path) for piece in PIECES} == set(OPERATIONS)
