"""Every route of the product, found in the URL configuration: who is let in, and nobody meets a trace."""

from collections.abc import Callable, Container, Iterator
from contextlib import AbstractContextManager
from dataclasses import dataclass
from typing import Any

import pytest
from django.conf import settings
from django.db import transaction
from django.test import Client
from django.urls import URLPattern, URLResolver, get_resolver, reverse
from pytest_django import DjangoDbBlocker

from keyctl.accounts.models import User
from tests.cast import Cast, gather
from tests.scenes import build_routes

# A calendar cannot sign in: the secret in its address stands for its person.
# Machines ask whether the product lives; what it tells them names nothing.
OPEN_TO_ALL = {
    "accounts:sign-in",
    "accounts:sign-out",
    "desk:feed",
    "field:state",
    "field:worker",
    "field:manifest",
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
    # The key of everybody's session, who signed in once.
    sessions: dict[str, str]


@pytest.fixture(scope="module")
def made(django_db_setup: None, django_db_blocker: DjangoDbBlocker) -> Iterator[Scene]:
    """Made once: every test looks at it inside a savepoint of its own."""
    with django_db_blocker.unblock(), transaction.atomic():
        cast = gather()
        _, objects = build_routes(cast)
        yield Scene(cast, objects, {name: sign_in(user) for name, user in cast.everybody.items()})
        transaction.set_rollback(True)


def sign_in(user: User) -> str:
    client = Client()
    client.force_login(user)
    return client.cookies[settings.SESSION_COOKIE_NAME].value


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
def test_nobody_gets_in_without_signing_in(name: str, scene: Scene, client: Client) -> None:
    for method in (client.get, client.post):
        answer = method(address(name, scene))
        if name in TO_PROGRAMS:
            assert answer.status_code in {401, 405}
        else:
            assert answer.status_code == 302
            assert answer.headers["Location"].startswith(reverse("accounts:sign-in"))


@pytest.mark.parametrize("name", sorted(PAGES))
def test_everybody_may_look_or_is_told_that_they_may_not(name: str, scene: Scene, writes: Writes) -> None:
    """No trace, nothing for a stranger, their own alone for a requester; and looking changes nothing."""
    page = address(name, scene)
    with writes() as written:
        codes = {person: as_person(scene, person).get(page).status_code for person in scene.cast.everybody}
    assert max(codes.values()) < 500, codes
    assert codes["stranger"] in strangers_codes(name)
    assert codes["requester"] in requesters_codes(name)
    assert written == [] or name in OPEN_TO_ALL


@pytest.mark.parametrize("name", sorted(PAGES))
def test_everybody_may_send_nothing_and_is_told_what_is_missing(name: str, scene: Scene) -> None:
    """The stranger first, while all is there to be found."""
    page = address(name, scene)
    everybody = reversed(scene.cast.everybody)
    codes = {person: as_person(scene, person).post(page).status_code for person in everybody}
    assert max(codes.values()) < 500, codes
    assert codes["stranger"] in strangers_codes(name)


def as_person(scene: Scene, person: str) -> Client:
    """A browser of their own with the session of the one time when they signed in."""
    client = Client()
    client.cookies[settings.SESSION_COOKIE_NAME] = scene.sessions[person]
    return client


def strangers_codes(name: str) -> Container[int]:
    is_hidden = name in WITH_OBJECT and name not in SHARED
    return {404, 405} if is_hidden else range(500)


def requesters_codes(name: str) -> Container[int]:
    if name not in WITH_OBJECT:
        return range(500)
    is_own = name.startswith("approvals:") or name in {"keys:holder", "counts:declare", "losses:own"}
    return {200, 302, 403, 405} if is_own else {403, 404, 405}
