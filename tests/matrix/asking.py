"""Asking the product as one person after another, by one browser whose cookie is changed."""

import logging
from collections.abc import Iterator
from contextlib import contextmanager, nullcontext
from dataclasses import dataclass, field
from typing import Any
from unittest.mock import patch

from django.conf import settings
from django.db import connection, transaction
from django.template.backends.django import Template
from django.test import Client
from django.urls import reverse
from django.utils.safestring import SafeString

from keyctl.lib.policy import Reach, declared
from tests.matrix.rows import FORBIDDEN, HIDDEN, NO_METHOD, SIGN_IN, UNKNOWN, YES

SHUT = {403: FORBIDDEN, 404: HIDDEN, 405: NO_METHOD, 401: UNKNOWN, 501: "501"}
WRITING = ("INSERT", "UPDATE", "DELETE", "REPLACE")


@dataclass
class Asker:
    sessions: dict[str, str]
    # What a route's parameters name: a value, or one by parameter.
    objects: dict[str, Any]
    sent: dict[tuple[str, str], dict[str, Any]] = field(default_factory=dict)
    # The credentials of programs.
    bearers: dict[str, str] = field(default_factory=dict)
    client: Client = field(default_factory=Client)
    asked: int = 0

    def address(self, route: str) -> str:
        value = self.objects.get(route)
        if value is None or isinstance(value, dict):
            return reverse(route, kwargs=value)
        policy = declared()[route]
        return reverse(
            route,
            kwargs={policy.at.parameter: value} if policy.at else None,
            args=None if policy.at else [value],
        )

    def ask(self, who: str, route: str, method: str) -> Any:
        """The answer; whatever it wrote is undone, but for what looking may not write at all."""
        self.become(who)
        self.asked += 1
        facts: dict[str, Any] = {"data": self.sent.get((route, method), {})}
        if bearer := self.bearers.get(who):
            facts |= {"headers": {"authorization": f"Bearer {bearer}"}}
        if method in {"POST", "PUT", "PATCH"} and self.is_of_programs(route):
            facts |= {"content_type": "application/json"}
        with nullcontext() if method == "GET" else undone():
            return getattr(self.client, method.lower())(self.address(route), **facts)

    def become(self, who: str) -> None:
        self.client.cookies.clear()
        if session := self.sessions.get(who):
            self.client.cookies[settings.SESSION_COOKIE_NAME] = session

    def is_of_programs(self, route: str) -> bool:
        return declared()[route].reach == Reach.SCOPED

    def verdict(self, who: str, route: str, method: str) -> str:
        answer = self.ask(who, route, method)
        if answer.status_code in SHUT:
            return SHUT[answer.status_code]
        if answer.status_code >= 500:
            return str(answer.status_code)
        leads = answer.headers.get("Location", "")
        is_led = who not in self.sessions and leads.startswith(reverse("accounts:sign-in"))
        return SIGN_IN if is_led else YES


@contextmanager
def undone() -> Iterator[None]:
    mark = transaction.savepoint()
    try:
        yield
    finally:
        transaction.savepoint_rollback(mark)


@contextmanager
def each_page_once() -> Iterator[None]:
    """Whether somebody may see a page is settled before it is set: its first reader gets it whole, whoever
    comes after an empty one. Pages of refusals are half of all answers, and all alike."""
    seen: set[str] = set()
    whole = Template.render

    def first(template: Any, *facts: Any, **more: Any) -> str:
        name = template.origin.template_name
        if name in seen:
            return SafeString()
        # A mail has a subject, and paper a page; what is no file has no name.
        if name and not name.startswith(("emails/", "prints/")):
            seen.add(name)
        return whole(template, *facts, **more)

    with patch.object(Template, "render", first):
        yield


@contextmanager
def quiet() -> Iterator[None]:
    """A refusal is what is asked for here: its trace is not worth the time that it takes to write."""
    log = logging.getLogger("django.request")
    log.disabled = True
    yield
    log.disabled = False


@dataclass(frozen=True)
class Written:
    sql: str
    params: Any

    def names(self, identifiers: frozenset[str]) -> bool:
        """Whether a value of it is one of these, however the database writes identifiers."""
        return any(str(value).replace("-", "") in identifiers for value in _flat(self.params))


def _flat(params: Any) -> Iterator[Any]:
    if isinstance(params, dict):
        params = list(params.values())
    for value in params or ():
        yield from _flat(value) if isinstance(value, list | tuple) else (value,)


@contextmanager
def writes_seen() -> Iterator[list[Written]]:
    """The statements that write, but for those of the session."""
    written: list[Written] = []

    def watch(execute: Any, sql: str, params: Any, many: bool, context: Any) -> Any:
        if (
            sql.lstrip().split(" ", 1)[0].upper() in WRITING
            and "session" not in sql.lower().partition("(")[0]
        ):
            written.append(Written(sql, params))
        return execute(sql, params, many, context)

    with connection.execute_wrapper(watch):
        yield written
