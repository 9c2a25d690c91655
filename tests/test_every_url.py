"""Every route of the product, found in the URL configuration: who is let in, and nobody meets a trace."""

from collections.abc import Callable, Iterator
from contextlib import AbstractContextManager
from dataclasses import dataclass
from typing import Any

import pytest
from django.db import transaction
from django.test import Client
from django.urls import URLPattern, URLResolver, get_resolver, reverse
from pytest_django import DjangoDbBlocker

from tests.cast import Cast, gather
from tests.scenes import build_routes

# A calendar cannot sign in: the secret in its address stands for its person.
# Machines ask whether the product lives; what it tells them names nothing.
OPEN_TO_ALL = {
    "accounts:sign-in",
    "accounts:sign-out",
    "desk:feed",
    "field:state",
    "operations:live",
    "operations:ready",
    "operations:metrics",
}
# Signed in to by tokens of their own; tests of theirs walk them.
ELSEWHERE = ("api:", "scim:")
# Called by the app on a tablet, which must be told of an ended sign-in and not led elsewhere.
TO_PROGRAMS = {"field:pack", "field:events", "field:lookup"}
# A core format belongs to no site: everybody on the staff of any site may read it.
SHARED = {"formats:detail", "formats:retire", "formats:remove-keyway"}

Writes = Callable[[], AbstractContextManager[list[str]]]


@dataclass(frozen=True)
class Scene:
    cast: Cast
    # What a route's parameter names.
    objects: dict[str, Any]


@pytest.fixture(scope="module")
def made(django_db_setup: None, django_db_blocker: DjangoDbBlocker) -> Iterator[Scene]:
    """Made once: every test looks at it inside a savepoint of its own."""
    with django_db_blocker.unblock(), transaction.atomic():
        cast = gather()
        _, objects = build_routes(cast)
        yield Scene(cast, objects)
        transaction.set_rollback(True)


@pytest.fixture
def scene(made: Scene, db: None) -> Scene:
    return made


def routes(patterns: list[URLPattern | URLResolver], space: str = "") -> Iterator[tuple[str, URLPattern]]:
    for pattern in patterns:
        if isinstance(pattern, URLResolver):
            inner = f"{pattern.namespace}:" if pattern.namespace else ""
            yield from routes(pattern.url_patterns, space + inner)
        else:
            yield f"{space}{pattern.name}", pattern


PAGES = {name: route for name, route in routes(get_resolver().url_patterns) if not name.startswith(ELSEWHERE)}
WITH_OBJECT = sorted(name for name, route in PAGES.items() if route.pattern.converters)


def address(name: str, scene: Scene) -> str:
    parameters = list(PAGES[name].pattern.converters)
    return reverse(name, kwargs={parameters[0]: scene.objects[name]} if parameters else None)


def test_every_route_with_a_parameter_has_an_object(scene: Scene) -> None:
    assert set(WITH_OBJECT) == set(scene.objects)


@pytest.mark.parametrize("name", sorted(set(PAGES) - OPEN_TO_ALL))
@pytest.mark.parametrize("method", ["get", "post"])
def test_nobody_gets_in_without_signing_in(name: str, method: str, scene: Scene, client: Client) -> None:
    answer = getattr(client, method)(address(name, scene))
    if name in TO_PROGRAMS:
        assert answer.status_code in {401, 405}
        return
    assert answer.status_code == 302
    assert answer.headers["Location"].startswith(reverse("accounts:sign-in"))


@pytest.mark.parametrize("name", sorted(set(WITH_OBJECT) - SHARED))
@pytest.mark.parametrize("method", ["get", "post"])
def test_a_stranger_finds_nothing_there(name: str, method: str, scene: Scene, client: Client) -> None:
    client.force_login(scene.cast.stranger)
    assert getattr(client, method)(address(name, scene)).status_code in {404, 405}


@pytest.mark.parametrize("name", WITH_OBJECT)
def test_a_requester_sees_only_their_own_requests_and_keys(name: str, scene: Scene, client: Client) -> None:
    client.force_login(scene.cast.requester)
    is_own = name.startswith("approvals:") or name in {"keys:holder", "counts:declare", "losses:own"}
    answer = client.get(address(name, scene))
    assert answer.status_code in ({200, 302, 403, 405} if is_own else {403, 404, 405})


@pytest.mark.parametrize("name", sorted(PAGES))
@pytest.mark.parametrize("method", ["get", "post"])
def test_nobody_meets_a_trace(name: str, method: str, scene: Scene, client: Client) -> None:
    for person in scene.cast.everybody.values():
        client.force_login(person)
        assert getattr(client, method)(address(name, scene)).status_code < 500


@pytest.mark.parametrize("name", sorted(set(PAGES) - OPEN_TO_ALL))
def test_looking_changes_nothing(name: str, scene: Scene, client: Client, writes: Writes) -> None:
    client.force_login(scene.cast.locksmith)
    with writes() as written:
        client.get(address(name, scene))
    assert written == []
