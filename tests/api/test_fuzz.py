"""Thousands of requests made up from the description: none breaks anything, and every answer is as described.

Schemathesis makes them up and judges. That they are not all turned away at the door is held as well.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from uuid import UUID

import pytest
from django.db import transaction
from pytest_django import DjangoDbBlocker
from schemathesis import GenerationMode

from keyctl.api.models import Scope
from keyctl.places.roles import Role
from tests.api.client import make_api
from tests.api.estate import Estate, build
from tests.api.fuzzing import CASES, Piece, pieces, run
from tests.api.walk import description, details, known
from tests.cast import gather
from tests.factories import make_user

OPERATIONS = [(method, path) for path, methods in description()["paths"].items() for method in methods]


# Any will do: of a request that was undone no key stays.
KEYS = [f'"{UUID(int=n)}"' for n in range(8)]
WEIGHTS = {"post": 40, "patch": 24, "delete": 8}
# How a body names one thing, where that is not its resource without the plural.
ONE = {"work-orders": "order", "key-systems": "system", "key-copies": "copy"}
# What the rules of the house seldom allow in this world: that they are asked at all is enough.
RULED = ("take-back/", "hand-out/", "key-copies/", "requests/", "reactivate/", "withdraw/", "cancel/")
# These want a token that does nothing else, and an officer: tests/api/test_pins.py.
SHUT = ("pinning/", "pinning/ask/")


def weight(method: str, path: str) -> int:
    """What takes a body has more to get wrong than what takes an identifier."""
    if path.endswith("/bulk/"):
        return 10  # it takes what the list takes, many times
    if method in WEIGHTS:
        return WEIGHTS[method]
    return 4 if "{" in path else 10


# The other interface takes the rest: tests/scim/test_fuzz.py.
PIECES = list(pieces({each: weight(*each) for each in OPERATIONS}, CASES * 3 // 4))


@dataclass(frozen=True)
class World:
    estate: Estate
    bearers: list[str]
    tags: dict[str, str]


@pytest.fixture(scope="module")
def made(django_db_setup: None, django_db_blocker: DjangoDbBlocker) -> Iterator[World]:
    with django_db_blocker.unblock(), transaction.atomic():
        cast = gather()
        estate = build(cast.north, cast.locksmith)
        south = make_user("south-administrator", site=cast.south, role=Role.ADMINISTRATOR)
        few = ([Scope.ESTATE_READ], [Scope.ORDERS_READ], [Scope.ORDERS_WRITE])
        whole = [None] * 5
        apis = [make_api(cast.administrator, cast.north, scopes=scopes) for scopes in (*whole, *few)]
        apis.append(make_api(south, cast.south))
        bearers = [f"Bearer {api.bearer}" for api in apis]
        tags = {path: answer["ETag"] for path in details(estate) if "ETag" in (answer := apis[0].get(path))}
        yield World(estate, [*bearers, "Bearer kc_nobody", "Basic eDp5"], tags)
        transaction.set_rollback(True)


def names(world: World, path: str) -> dict[str, list[str]]:
    """What exists, by the names that parameters and bodies have for it; `id` is what the path is about, and
    `If-Match` its tag."""
    ids = {word: [str(pk)] for word, pk in known(world.estate).items()}
    ids["cores"].append(str(world.estate.spare.pk))
    singular = {ONE.get(word, word.removesuffix("s")): pks for word, pks in ids.items()}
    word = path.split("/")[3]
    tag = world.tags.get(f"{word}/{ids[word][0]}/", "*") if word in ids else "*"
    words = {
        "system": [world.estate.system.code],
        "keyed_to": [world.estate.key.symbol],
        "construction": [world.estate.housing.construction],
    }
    about = {"id": ids[word], "number": ids[word]} if word in ids else {}
    return {**ids, **singular, **words, **about, "If-Match": [tag, tag, "*"], "Idempotency-Key": KEYS}


@pytest.mark.parametrize("piece", PIECES, ids=str)
def test_no_request_breaks_the_api(piece: Piece, made: World, db: None) -> None:
    answers = run(piece, description(), names(made, piece.path), made.bearers)
    assert max(answers) < 500
    if piece.mode is GenerationMode.POSITIVE and piece.number >= 40 and not piece.path.endswith(SHUT):
        by_rule = {409, 422} if piece.path.endswith(RULED) else set()
        assert {status for status in answers if status < 300 or status in by_rule}, answers


def test_as_many_are_made_up_as_promised() -> None:
    assert sum(piece.number for piece in PIECES) >= CASES * 3 // 4
    assert {(piece.method, piece.path) for piece in PIECES} == set(OPERATIONS)
