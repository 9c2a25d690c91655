"""The page over one of everything at two sites: what is shown of which, where links lead, what it costs.

The scene is the one that the test of permissions walks through; it is made once.
"""

from collections.abc import Iterator
from dataclasses import dataclass

import pytest
from django.db import connection, transaction
from django.test import Client
from django.test.utils import CaptureQueriesContext
from pytest_django import DjangoDbBlocker

from keyctl.accounts.models import User
from keyctl.places.models import Membership
from keyctl.places.roles import Role
from keyctl.start.selectors import ORDER, first_page
from tests.cast import Cast, gather
from tests.keyctl.start.reading import words_of
from tests.matrix.worlds import CANARY, southern
from tests.scenes import build_routes

PEOPLE = ("locksmith", "desk", "manager", "officer", "auditor", "administrator", "requester")
# What belongs to the installation, or leads on.
OF_NO_SITE = {"Is the installation well guarded?", "Is the history sound?", "Where do you want to look?"}


@dataclass(frozen=True)
class Scene:
    cast: Cast
    south: Cast
    # How many queries each page took when there was one of everything.
    alone: dict[str, int]


@pytest.fixture(scope="module")
def made(django_db_setup: None, django_db_blocker: DjangoDbBlocker) -> Iterator[Scene]:
    """Made once: every test looks at it inside a savepoint of its own."""
    with django_db_blocker.unblock(), transaction.atomic():
        cast = gather()
        build_routes(cast)
        alone = {name: queries(cast.everybody[name]) for name in PEOPLE}
        south = southern(cast)
        build_routes(south)
        yield Scene(cast, south, alone)
        transaction.set_rollback(True)


@pytest.fixture
def scene(made: Scene, db: None) -> Scene:
    return made


def queries(user: User) -> int:
    client = Client()
    client.force_login(user)
    client.get("/")
    with CaptureQueriesContext(connection) as seen:
        assert client.get("/").status_code == 200
    return len(seen)


def everything_to(user: User, cast: Cast) -> None:
    """Every role of people at the site, where it is not held already."""
    held = set(Membership.objects.filter(user=user, site=cast.north).values_list("role", flat=True))
    roles = [role for role in ORDER if role not in held]
    Membership.objects.bulk_create([Membership(user=user, site=cast.north, role=role) for role in roles])


@pytest.mark.parametrize("name", PEOPLE)
def test_nothing_of_another_site_stands_on_the_page(scene: Scene, client: Client, name: str) -> None:
    """The other site, and everybody there, has a word in its name that nothing else has."""
    assert CANARY not in words_of(client, scene.cast.everybody[name]).lower()
    assert "North" not in words_of(client, scene.south.everybody[name])


def test_whoever_has_every_role_at_one_site_sees_of_the_other_no_more(scene: Scene, client: Client) -> None:
    everything_to(scene.cast.locksmith, scene.cast)
    page = words_of(client, scene.cast.locksmith)
    assert "Loss 1" in page
    assert CANARY not in page.lower()


def test_whoever_works_at_both_sees_both(scene: Scene, client: Client) -> None:
    everything_to(scene.cast.locksmith, scene.south)
    everything_to(scene.cast.locksmith, scene.cast)
    page = words_of(client, scene.cast.locksmith).lower()
    assert CANARY in page
    assert "north" in page


@pytest.mark.parametrize("name", PEOPLE)
def test_every_link_may_be_followed(scene: Scene, client: Client, name: str) -> None:
    """What the page offers to somebody is open to them."""
    user = scene.cast.everybody[name]
    client.force_login(user)
    for found in (found for part in first_page(user).parts for found in part.blocks):
        acts = [line.act for line in found.lines if line.act] + [found.more] * bool(found.more)
        addresses = {line.url for line in found.lines if line.url} | {act.url for act in acts if act}
        for address in addresses:
            assert client.get(address).status_code in {200, 302}, (found.question, address)


@pytest.mark.parametrize("name", PEOPLE)
def test_a_second_one_of_everything_costs_no_further_query(scene: Scene, name: str) -> None:
    user = scene.cast.everybody[name]
    roles = Membership.objects.filter(user=user, site=scene.cast.north).values_list("role", flat=True)
    Membership.objects.bulk_create(
        [Membership(user=user, site=scene.south.north, role=Role(role)) for role in roles]
    )
    assert queries(user) == scene.alone[name]


@pytest.mark.parametrize("name", PEOPLE)
def test_looking_writes_nothing(scene: Scene, client: Client, name: str) -> None:
    client.force_login(scene.cast.everybody[name])
    client.get("/")
    with CaptureQueriesContext(connection) as seen:
        client.get("/")
    written = [row["sql"] for row in seen if row["sql"].split(" ", 1)[0] in {"INSERT", "UPDATE", "DELETE"}]
    assert [sql for sql in written if "accounts_session" not in sql] == []
