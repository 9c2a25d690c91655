"""Every kind of problem: provoked by a real request, with a page of its own, and a line in REST.md."""

import ast
import re
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any
from uuid import UUID

import pytest
from django.test import Client
from django.utils import timezone
from pytest_django import Settings

from keyctl import api as app
from keyctl.api.kinds import KINDS
from keyctl.api.models import KeptAnswer, Scope, Token
from keyctl.api.parsers import BOUNDS
from tests.api.client import ROOT, Api, make_api, problem
from tests.api.estate import Estate
from tests.cast import Cast

DOCUMENT = Path(app.__file__).with_name("REST.md")


@dataclass(frozen=True)
class Scene:
    api: Api
    estate: Estate
    cast: Cast
    settings: Settings

    @property
    def door(self) -> str:
        return f"doors/{self.estate.door.pk}/"

    def order(self, **changed: Any) -> dict[str, Any]:
        door, site = str(self.estate.door.pk), str(self.estate.site.pk)
        return {"kind": "inspect", "site": site, "title": "Look", "doors": [door]} | changed

    def raw(self, body: bytes, content_type: str = "application/json") -> Any:
        return self.api.send("POST", "work-orders/", body, content_type=content_type)


def a_door_changed_by_somebody_else(scene: Scene) -> Any:
    tag = scene.api.get(scene.door)["ETag"]
    assert scene.api.patch(scene.door, {"name": "First"}, match=tag).status_code == 200
    return scene.api.patch(scene.door, {"name": "Second"}, match=tag)


def a_key_with_another_body(scene: Scene) -> Any:
    assert scene.api.post("work-orders/", scene.order(), key="k").status_code == 201
    return scene.api.post("work-orders/", scene.order(title="Otherwise"), key="k")


def a_key_that_is_at_work(scene: Scene) -> Any:
    assert scene.api.post("work-orders/", scene.order(), key="k").status_code == 201
    KeptAnswer.objects.update(status=None, claimed_at=timezone.now())
    return scene.api.post("work-orders/", scene.order(), key="k")


def one_more_than_a_minute_takes(scene: Scene) -> Any:
    scene.settings.API_READS = 3
    return [scene.api.get("sites/") for _ in range(4)][-1]


def from_elsewhere(scene: Scene) -> Any:
    Token.objects.update(networks="192.0.2.0/24")
    return scene.api.get("sites/")


def with_a_small_scope(scene: Scene) -> Any:
    return make_api(scene.cast.administrator, scene.cast.north, scopes=[Scope.ORDERS_READ]).get("doors/")


def a_second_door_of_a_number(scene: Scene) -> Any:
    return scene.api.post("doors/", {"floor": str(scene.estate.door.floor.pk), "number": "E-1.04"})


PROVOKED: dict[str, Callable[[Scene], Any]] = {
    "malformed": lambda scene: scene.raw(b'{"kind": swap}'),
    "invalid": lambda scene: scene.api.get("doors/", colour="red"),
    "key-missing": lambda scene: scene.api.post("doors/bulk/", {"items": [{}]}, key=""),
    "not-authenticated": lambda _scene: Api("kc_nobody").get("doors/"),
    "forbidden": with_a_small_scope,
    "foreign-network": from_elsewhere,
    "not-found": lambda scene: scene.api.get(f"doors/{UUID(int=7)}/"),
    "method-not-allowed": lambda scene: scene.api.send("DELETE", "sites/"),
    "not-acceptable": lambda scene: scene.api.send("GET", "doors/", headers={"accept": "text/csv"}),
    "in-flight": a_key_that_is_at_work,
    "changed-meanwhile": a_door_changed_by_somebody_else,
    "too-large": lambda scene: scene.raw(b'"' + b"x" * BOUNDS.bytes + b'"'),
    "unsupported-media-type": lambda scene: scene.raw(b"kind=swap", "text/plain"),
    "refused": a_second_door_of_a_number,
    "key-reused": a_key_with_another_body,
    "tag-missing": lambda scene: scene.api.patch(scene.door, {"name": "New"}),
    "too-many-requests": one_more_than_a_minute_takes,
}
# What needs a world of its own is provoked there.
ELSEWHERE = {
    "conflict": "test_pins.py",
    "feed-begins-anew": "test_changes.py",
    "vault-sealed": "test_pins.py",
}


@pytest.mark.parametrize("slug", PROVOKED)
def test_it_is_provoked_by_a_real_request(
    slug: str, api: Api, estate: Estate, cast: Cast, settings: Settings
) -> None:
    body = problem(PROVOKED[slug](Scene(api, estate, cast, settings)), KINDS[slug].status, slug)
    assert body["title"] == KINDS[slug].title
    page = Client().get(body["type"].removeprefix("http://127.0.0.1:8000"))
    assert page.status_code == 200
    assert KINDS[slug].title in page.content.decode()


@pytest.mark.parametrize(("slug", "file"), ELSEWHERE.items())
def test_or_elsewhere(slug: str, file: str) -> None:
    """There stands a call of `problem` with the status and the kind, which asserts both of an answer."""
    tree = ast.parse(Path(__file__).with_name(file).read_text())
    calls = [node for node in ast.walk(tree) if isinstance(node, ast.Call)]
    named = [[each.value for each in call.args if isinstance(each, ast.Constant)] for call in calls]
    assert [KINDS[slug].status, slug] in named


def test_each_is_provoked_and_none_that_does_not_exist() -> None:
    assert PROVOKED.keys() | ELSEWHERE.keys() == KINDS.keys()
    assert not PROVOKED.keys() & ELSEWHERE.keys()


def documented() -> dict[str, int]:
    """The rows of the table in REST.md: `| 412 | `changed-meanwhile` | … |`."""
    table = DOCUMENT.read_text().partition("## Problems")[2]
    rows = re.findall(r"^\| (\d{3}) \| `([a-z-]+)` \| .+ \|$", table, re.MULTILINE)
    return {slug: int(status) for status, slug in rows}


def test_each_stands_in_the_document_with_its_status_and_no_other() -> None:
    assert documented() == {slug: kind.status for slug, kind in KINDS.items()}


def test_the_description_names_every_status(db: None) -> None:
    described = set(Client().get(f"{ROOT}schema/").json()["components"]["responses"])
    # 405 is told by addresses that have no such method, which are no operation.
    statuses = {f"Problem{kind.status}" for kind in KINDS.values()} - {"Problem405"}
    assert described == statuses
