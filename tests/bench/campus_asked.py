"""The process behind one size of ``bench_api``: writes a campus, then asks what a program asks about it."""

import os
import shutil
import tempfile
import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from types import SimpleNamespace
from typing import Any
from urllib.parse import urlsplit

LISTS = (
    "sites",
    "buildings",
    "floors",
    "spaces",
    "doors",
    "housings",
    "cores",
    "work-orders",
    "key-systems",
    "keys",
    "cabinets",
    "key-copies",
    "holders",
    "requests",
    "events",
)
RELATIONS = ("doors/{}/openers/", "keys/{}/doors/", "holders/{}/doors/")
# What narrows a list to little is asked too: a tag, a number, a room.
NARROWED = (
    ("doors", "tag"),
    ("doors", "global_id"),
    ("cores", "tag"),
    ("doors", "building"),
    ("housings", "door"),
    ("spaces", "floor"),
    ("key-copies", "serial"),
)
WIDE, NARROW = ("S0", "S1", "S2", "S3"), ("S5",)
PAGE = 50


@dataclass(frozen=True)
class Question:
    """``what`` of a list, with the eyes of the token of many sites or of one."""

    path: str
    what: str
    is_wide: bool = True
    limit: int = PAGE

    def __str__(self) -> str:
        return f"{self.path} {self.what}{'' if self.is_wide else ', one small site'}"


@dataclass(frozen=True)
class Told:
    seconds: float
    queries: int
    rows: int


def questions() -> list[Question]:
    pages = [Question(name, what) for name in LISTS for what in ("first page", "last page", "one")]
    small = [Question(name, what, is_wide=False) for name in LISTS for what in ("first page", "one")]
    narrowed = [Question(name, f"by {field}") for name, field in NARROWED]
    return [*pages, *narrowed, *(Question(path, "page") for path in RELATIONS), *small]


def serve(line: Any, doors: int) -> None:
    """What the process does: say what may be asked, then answer until nobody asks."""
    with place(doors):
        import django

        django.setup()
        from django.db import connection

        clerk = Clerk(written(doors))
        line.send((questions(), connection.vendor))
        while (question := line.recv()) is not None:
            line.send(clerk.answer(question))
        connection.close()


def written(doors: int) -> Any:
    """Who administers a campus of so many doors."""
    from keyctl.lib.planner import look_anew
    from tests.bench.campus import build

    make_tables()
    maker = build(doors)
    # As the product does after bulk work.
    look_anew()
    return maker


def make_tables() -> None:
    """From the models, in a tenth of the time."""
    from django.conf import settings
    from django.core.management import call_command
    from django.db import connection

    from keyctl.feed import triggers

    settings.MIGRATION_MODULES = {config.label: None for config in _apps()}
    settings.ALLOWED_HOSTS = ["testserver"]
    call_command("migrate", verbosity=0, run_syncdb=True)
    # What only reads need not be listed while it is written.
    triggers.remove(connection)


def _apps() -> Any:
    from django.apps import apps

    return apps.get_app_configs()


class Clerk:
    """A program with a token; every address is found out once, outside of what is timed."""

    def __init__(self, maker: Any) -> None:
        from django.db import connection

        from keyctl.places.models import Site
        from tests.api.client import make_api

        self.apis = {
            wide: make_api(maker, *Site.objects.filter(code__in=codes))
            for wide, codes in ((True, WIDE), (False, NARROW))
        }
        # SQLite works in this process: its own time tells no more of what else the machine does.
        self.clock = time.process_time if connection.vendor == "sqlite" else time.perf_counter
        self.addresses: dict[Question, tuple[str, dict[str, Any]]] = {}
        self.counted: dict[Question, int] = {}

    def answer(self, question: Question) -> Told:
        path, query = self._address(question)
        began = self.clock()
        answer = self.apis[question.is_wide].get(path, **query)
        seconds = self.clock() - began
        if answer.status_code != 200:
            raise ValueError(f"{path} {query}: {answer.content[:400]}")
        return Told(seconds, self.counted[question], len(answer.json().get("results", "1")))

    def _address(self, question: Question) -> tuple[str, dict[str, Any]]:
        if question not in self.addresses:
            self.addresses[question] = self._found(question)
            self.counted[question] = self._queries(question)
        return self.addresses[question]

    def _queries(self, question: Question) -> int:
        """Apart, since counting takes time; twice, since once a minute the token's use is noted."""
        from django.db import connection
        from django.test.utils import CaptureQueriesContext

        path, query = self.addresses[question]
        counts = []
        for _ in range(2):
            with CaptureQueriesContext(connection) as captured:
                self.apis[question.is_wide].get(path, **query)
            counts.append(len(captured))
        return min(counts)

    def _found(self, question: Question) -> tuple[str, dict[str, Any]]:
        if question.what == "page":
            return question.path.format(self._one(question.path.split("/")[0], question.is_wide)), {}
        path = f"{question.path}/"
        if question.what == "one":
            return f"{path}{self._one(question.path, question.is_wide)}/", {}
        if question.what.startswith("by "):
            return path, self._narrowing(question)
        query: dict[str, Any] = {"limit": question.limit}
        if question.what == "last page":
            rows, key = self._rows(question.path, question.is_wide)
            keys = list(rows.values_list(key, flat=True))
            if len(keys) > question.limit:
                query["cursor"] = _cursor(keys[-question.limit - 1])
        return path, query

    def _narrowing(self, question: Question) -> dict[str, Any]:
        field = question.what.removeprefix("by ")
        row = self.apis[True].get(f"{question.path}/{self._one(question.path, True)}/").json()
        value = row["identifiers"][0]["value"] if field == "global_id" else row[field]
        return {field: value["id"] if isinstance(value, dict) else value}

    def _one(self, name: str, is_wide: bool) -> Any:
        """The middle one. Of keys a change key, as most are."""
        rows, _ = self._rows(name, is_wide)
        pks = list(rows.values_list("pk", flat=True))
        return pks[len(pks) // 2]

    def _rows(self, name: str, is_wide: bool) -> tuple[Any, str]:
        """All rows of the list, and what they are ordered by."""
        from django.urls import resolve

        view: Any = resolve(f"/api/v1/{name}/").func.cls()  # type: ignore[attr-defined]
        view.request = SimpleNamespace(user=_user_of(self.apis[is_wide].bearer or ""))
        rows = view.rows({"kind": "change"} if name == "keys" else {})
        return rows.order_by(view.order_key), view.order_key


def _user_of(bearer: str) -> Any:
    from keyctl.api.models import Token

    return Token.objects.select_related("user").get(prefix=bearer.split("_")[1]).user


def _cursor(value: Any) -> str:
    import base64

    return base64.urlsafe_b64encode(str(value).encode()).decode().rstrip("=")


@contextmanager
def place(doors: int) -> Iterator[None]:
    """A folder for SQLite's file, or a database of its own on the server that is named."""
    os.environ["DJANGO_SETTINGS_MODULE"] = "tests.settings"
    folder = tempfile.mkdtemp(prefix="keyctl-bench-")
    os.environ["KEYCTL_DATA_DIR"] = folder
    url = os.environ.get("KEYCTL_DATABASE_URL", "")
    if url:
        os.environ["KEYCTL_DATABASE_URL"] = _database(url, f"bench_{doors}")
    try:
        yield
    finally:
        shutil.rmtree(folder, ignore_errors=True)


def _database(url: str, name: str) -> str:
    import psycopg

    with psycopg.connect(url, autocommit=True) as connection:
        connection.execute(f'DROP DATABASE IF EXISTS "{name}"'.encode())
        connection.execute(f'CREATE DATABASE "{name}"'.encode())
    return urlsplit(url)._replace(path=f"/{name}").geturl()
