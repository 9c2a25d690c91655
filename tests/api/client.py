"""A program that uses the API, as a test sees it."""

from dataclasses import dataclass, field
from datetime import timedelta
from typing import Any

from django.test import Client
from django.utils import timezone

from keyctl.accounts.models import User
from keyctl.api.models import Scope
from keyctl.api.services import create_token
from keyctl.places.models import Site

ROOT = "/api/v1/"
# A token for people does only that, and not here.
SCOPES: list[Scope] = [scope for scope in Scope if scope != Scope.PEOPLE]


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

    def post(self, path: str, body: Any) -> Any:
        return self.client.post(ROOT + path, body, content_type="application/json", headers=self.headers)

    def send(self, method: str, path: str, body: bytes = b"", **more: Any) -> Any:
        return self.client.generic(
            method, ROOT + path, body, headers=self.headers | more.pop("headers", {}), **more
        )

    def ids(self, path: str, **query: Any) -> list[str]:
        return [row["id"] for row in self.get(path, **query).json()["results"]]


def make_api(administrator: User, *sites: Site, scopes: list[Scope] | None = None) -> Api:
    _, credential = create_token(
        actor=administrator,
        name="Invented integration",
        sites=list(sites),
        scopes=SCOPES if scopes is None else scopes,
        expires_on=timezone.localdate() + timedelta(days=30),
    )
    return Api(credential.text)


def problem(response: Any, status: int, slug: str) -> dict[str, Any]:
    """The body of a problem answer, after the members that RFC 9457, 3.1 names have been checked."""
    assert response.status_code == status, response.content
    assert response["Content-Type"] == "application/problem+json"
    body: dict[str, Any] = response.json()
    assert body["type"].endswith(f"/api/v1/problems/{slug}/")
    assert body["status"] == status
    assert body["title"]
    assert body["detail"]
    return body
