"""The fine rule holds without the coarse one: with the policies of routes lifted, a stranger still finds
nothing of another site, and whose role does not suffice is turned away by `access.py` and the services."""

from collections.abc import Iterator
from contextlib import suppress
from unittest.mock import patch

import pytest
from django.conf import settings
from django.db import transaction
from django.test import Client
from django.urls import NoReverseMatch
from pytest_django import DjangoDbBlocker

from keyctl.lib.policy import Reach, declared, routes
from keyctl.places import policing
from keyctl.places.roles import Role
from tests.cast import gather
from tests.matrix.asking import Asker, quiet
from tests.scenes import build_routes
from tests.signing import sign_in

SHUT = {403, 404, 405}
ROLES = {
    "locksmith": Role.LOCKSMITH,
    "desk": Role.KEY_DESK,
    "manager": Role.MANAGER,
    "officer": Role.OFFICER,
    "auditor": Role.AUDITOR,
    "administrator": Role.ADMINISTRATOR,
}
# They look for what the form names, which is nothing here; lists of people want every site.
ASKING_FOR_MORE = (
    "desk:found",
    "desk:ready",
    "desk:taker",
    "inherited:found",
    "inherited:make",
    "directory:",
)
# A core format belongs to no site.
SHARED = ("formats:",)


@pytest.fixture(scope="module")
def asker(django_db_setup: None, django_db_blocker: DjangoDbBlocker) -> Iterator[Asker]:
    with django_db_blocker.unblock(), transaction.atomic(), quiet():
        cast = gather()
        _, objects = build_routes(cast)
        sessions = {}
        for name, user in cast.everybody.items():
            client = sign_in(Client(), user)
            sessions[name] = client.cookies[settings.SESSION_COOKIE_NAME].value
        yield Asker(sessions, objects)
        transaction.set_rollback(True)


NAMING = sorted(
    name
    for name, _ in routes()
    if declared()[name].reach == Reach.ROLES and declared()[name].at and not name.startswith(SHARED)
)


@pytest.mark.parametrize("person", ["stranger", "requester", "auditor"])
def test_nobody_gets_further_than_their_site_and_role(person: str, asker: Asker, db: None) -> None:
    open_ = {}
    with patch.object(policing, "enforce", lambda *_arguments: None):
        for name in NAMING:
            policy = declared()[name]
            for method in ("GET", "POST"):
                whose = policy.whose(method)
                if whose is None or (person != "stranger" and (policy.is_personal or person in whose)):
                    continue
                try:
                    answer = asker.ask(person, name, method)
                except NoReverseMatch:
                    continue
                # An empty form is refused before the service that would ask for the role.
                if answer.status_code not in (SHUT | {422} if person == "auditor" else SHUT):
                    open_[f"{method} {name}"] = answer.status_code
    assert open_ == {}


@pytest.mark.parametrize("method", ["GET", "POST"])
def test_whoever_the_first_lock_lets_in_the_second_does_too(method: str, asker: Asker, db: None) -> None:
    """At least one of those whom a policy names: which of them, the table of permissions says."""
    shut = {}
    for name in NAMING:
        whose = declared()[name].whose(method)
        people = [person for person in asker.sessions if whose and ROLES.get(person) in whose]
        codes = []
        for person in people:
            with suppress(NoReverseMatch):
                codes.append(asker.ask(person, name, method).status_code)
            if codes and codes[-1] not in SHUT:
                break
        if codes and codes[-1] in SHUT and not name.startswith(ASKING_FOR_MORE):
            shut[f"{method} {name}"] = codes
    assert shut == {}


def test_what_is_personal_is_told_apart_by_the_second_lock_alone(asker: Asker, db: None) -> None:
    """No role decides there: a stranger finds nothing, and not everybody else is let in either."""
    personal = [name for name in NAMING if declared()[name].is_personal]
    found: dict[str, set[int]] = {}
    for name in personal:
        for method in declared()[name].methods:
            for person in asker.sessions:
                with suppress(NoReverseMatch):
                    code = asker.ask(person, name, method).status_code
                    found.setdefault(person, set()).add(code)
                    assert code < 500, (name, method, person)
    assert found["stranger"] <= SHUT
    assert all(codes & SHUT for codes in found.values())
