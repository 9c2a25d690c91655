"""A program that uses the API, as a test sees it."""

import json
from dataclasses import dataclass, field
from datetime import timedelta
from typing import Any
from uuid import uuid4

from django.core.serializers.json import DjangoJSONEncoder
from django.test import Client
from django.utils import timezone

from keyctl.accounts.models import User
from keyctl.api.models import Scope
from keyctl.api.services import create_token
from keyctl.places.models import Site

ROOT = "/api/v1/"
# A token for people or for pins does only that, and not here.
SCOPES: list[Scope] = [scope for scope in Scope if scope not in {Scope.PEOPLE, Scope.PINNING_READ}]


@dataclass(frozen=True)
class Api:
    bearer: str | None = None
    client: Client = field(default_factory=Client)

    @property
    def headers(self) -> dict[str, str]:
        return {"authorization": f"Bearer {self.bearer}"} if self.bearer else {}

    def get(self, path: str, **query: Any) -> Any:
        return self.client.get(ROOT + path, query, headers=self.headers)

    def follow(self, url: str) -> Any:
        """An address an answer gave, as it stands."""
        return self.client.get(url, headers=self.headers)

    def post(self, path: str, body: Any, *, key: str | None = None, match: str | None = None) -> Any:
        """With a new key of its own unless one is given; with none where it is empty."""
        named = {"idempotency-key": uuid4().hex if key is None else key, "if-match": match}
        return self.write("POST", path, body, **{name: text for name, text in named.items() if text})

    def patch(self, path: str, body: Any, *, match: str | None = None) -> Any:
        return self.write("PATCH", path, body, **({"if-match": match} if match else {}))

    def delete(self, path: str, *, match: str | None = None) -> Any:
        return self.send("DELETE", path, headers={"if-match": match} if match else {})

    def write(self, method: str, path: str, body: Any, **headers: str) -> Any:
        content = json.dumps(body, cls=DjangoJSONEncoder).encode()
        return self.send(method, path, content, content_type="application/json", headers=headers)

    def send(self, method: str, path: str, body: bytes = b"", **more: Any) -> Any:
        return self.client.generic(
            method, ROOT + path, body, headers=self.headers | more.pop("headers", {}), **more
        )

    def ids(self, path: str, **query: Any) -> list[str]:
        return [row["id"] for row in self.get(path, **query).json()["results"]]


def make_api(administrator: User, *sites: Site, scopes: list[Scope] | None = None, networks: str = "") -> Api:
    _, credential = create_token(
        actor=administrator,
        name="Invented integration",
        sites=list(sites),
        scopes=SCOPES if scopes is None else scopes,
        expires_on=timezone.localdate() + timedelta(days=30),
        networks=networks,
    )
    return Api(credential.text)


def problem(response: Any, status: int, slug: str) -> dict[str, Any]:
    """The body of a problem answer, after the members that RFC 9457, 3.1 names have been checked."""
    assert response.status_code == status, response.content
    assert response["Content-Type"] == "application/problem+json"
    body: dict[str, Any] = json.loads(response.content)
    assert body["type"].endswith(f"/api/v1/problems/{slug}/")
    assert body["status"] == status
    assert body["title"]
    assert body["detail"]
    return body
