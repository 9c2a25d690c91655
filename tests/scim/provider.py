"""An identity provider, as a test sees it."""

import json
from dataclasses import dataclass, field
from datetime import timedelta
from typing import Any

from django.test import Client
from django.utils import timezone

from keyctl.accounts.models import User
from keyctl.api.models import Scope
from keyctl.api.services import create_token
from keyctl.places.models import Membership, Site
from keyctl.places.roles import Role

ROOT = "/scim/v2/"
TYPE = "application/scim+json"
USER = "urn:ietf:params:scim:schemas:core:2.0:User"
ENTERPRISE = "urn:ietf:params:scim:schemas:extension:enterprise:2.0:User"
PATCH = "urn:ietf:params:scim:api:messages:2.0:PatchOp"
ERROR = "urn:ietf:params:scim:api:messages:2.0:Error"


@dataclass(frozen=True)
class Provider:
    bearer: str
    client: Client = field(default_factory=Client)

    def send(self, method: str, path: str, body: Any = None, **headers: str) -> Any:
        raw = body if isinstance(body, bytes) else json.dumps(body).encode() if body is not None else b""
        kind = headers.pop("content_type", TYPE)
        return self.client.generic(
            method,
            ROOT + path,
            raw,
            content_type=kind,
            headers={"authorization": f"Bearer {self.bearer}", **headers},
        )

    def get(self, path: str, **query: Any) -> Any:
        return self.client.get(ROOT + path, query, headers={"authorization": f"Bearer {self.bearer}"})

    def create(self, user_name: str = "ada@example.org", **facts: Any) -> dict[str, Any]:
        response = self.send("POST", "Users", {"schemas": [USER], "userName": user_name, **facts})
        assert response.status_code == 201, response.content
        made: dict[str, Any] = response.json()
        return made

    def patch(self, pk: str, *operations: dict[str, Any], **headers: str) -> Any:
        return self.send(
            "PATCH", f"Users/{pk}", {"schemas": [PATCH], "Operations": list(operations)}, **headers
        )

    def names(self, **query: Any) -> list[str]:
        response = self.get("Users", **query)
        assert response.status_code == 200, response.content
        return [user["userName"] for user in response.json()["Resources"]]


def make_provider(administrator: User) -> Provider:
    """By an administrator of every site."""
    for site in Site.objects.all():
        Membership.objects.get_or_create(user=administrator, site=site, role=Role.ADMINISTRATOR)
    _, credential = create_token(
        actor=administrator,
        name="Identity provider",
        sites=list(Site.objects.all()),
        scopes=[Scope.PEOPLE],
        expires_on=timezone.localdate() + timedelta(days=30),
    )
    return Provider(credential.text)


def scim_error(response: Any, status: int, kind: str | None = None) -> dict[str, Any]:
    """The body of an error, after what RFC 7644, 3.12 asks of it was checked: the status is a string."""
    assert response.status_code == status, response.content
    assert response["Content-Type"] == TYPE
    body: dict[str, Any] = response.json()
    assert body["schemas"] == [ERROR]
    assert body["status"] == str(status)
    assert body["detail"]
    assert body.get("scimType") == kind
    return body
