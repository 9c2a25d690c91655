"""A resource of the tests' own, so that the frame is tried apart from what stands in it: buildings, written
without a rule of the house."""

import json
from typing import Any
from uuid import uuid4

from django.http.response import HttpResponseBase
from django.test import RequestFactory
from rest_framework import serializers

from keyctl.api.models import Scope
from keyctl.api.selectors import Filters
from keyctl.api.serializers.fields import StrictSerializer
from keyctl.api.views.base import Resource
from keyctl.api.views.writing import Bulk, Changes, Facts, Removes, act, one_of, written
from keyctl.lib.errors import Conflict, Refused
from keyctl.places.access import visible_buildings, visible_sites
from keyctl.places.models import Building


class ThingSerializer(serializers.Serializer[Building]):
    id = serializers.UUIDField()
    code = serializers.CharField()
    name = serializers.CharField()


class ThingFilters(StrictSerializer):
    code = serializers.CharField(required=False)


class NewThing(StrictSerializer):
    site = serializers.UUIDField()
    code = serializers.CharField(max_length=12)
    name = serializers.CharField(max_length=80)


class ThingChange(StrictSerializer):
    name = serializers.CharField(max_length=80, required=False)


class Renaming(StrictSerializer):
    name = serializers.CharField()


@written("a thing", new=NewThing, change=ThingChange)
class Things(Bulk, Changes, Removes, Resource):
    queryset = Building.objects.none()
    serializer_class = ThingSerializer
    filters_class = ThingFilters
    detail_route = "building"
    scopes = {
        "GET": Scope.ESTATE_READ,
        "POST": Scope.ESTATE_WRITE,
        "PATCH": Scope.ESTATE_WRITE,
        "DELETE": Scope.ESTATE_WRITE,
    }

    def rows(self, filters: Filters) -> Any:
        return visible_buildings(self.actor).filter(**filters)

    def make(self, facts: Facts) -> Building:
        site = one_of(visible_sites(self.actor), facts.pop("site"), "site")
        if facts["name"] == "refused":
            raise Refused("No thing is called so. Call it otherwise.")
        return Building.objects.create(site=site, **facts)

    def change(self, row: Building, facts: Facts) -> None:
        if facts.get("name") == "taken":
            raise Conflict("Somebody else was first.")
        # What a refusal after a write leaves behind must be nothing.
        Building.objects.filter(pk=row.pk).update(**facts)
        if facts.get("name") == "half":
            raise Refused("Found out too late. Call it otherwise.")

    def remove(self, row: Building) -> None:
        row.delete()

    @act("Call it otherwise", Renaming, ThingSerializer)
    def rename(self, row: Building, facts: Facts) -> None:
        Building.objects.filter(pk=row.pk).update(name=facts["name"])


LIST = Things.as_view({"get": "list", "post": "create"})
DETAIL = Things.as_view({"get": "retrieve", "patch": "partial_update", "delete": "destroy"})
BULK = Things.as_view({"post": "bulk"})
RENAME = Things.as_view({"post": "rename"})


def ask(bearer: str, view: Any, method: str, body: Any = None, **facts: Any) -> Any:
    """``pk`` names a thing, ``query`` the query; every other fact is a header."""
    pk, query = facts.pop("pk", None), facts.pop("query", "")
    headers = {name.replace("_", "-"): text for name, text in facts.items() if text is not None}
    request = RequestFactory().generic(
        method,
        f"/api/v1/things/{query}",
        b"" if body is None else json.dumps(body).encode(),
        content_type="application/json",
        headers={"authorization": f"Bearer {bearer}", **headers},
    )
    response: HttpResponseBase = view(request, **({"pk": pk} if pk else {}))
    if hasattr(response, "render"):
        response.render()
    return response


def new_key() -> str:
    return f'"{uuid4()}"'


def body_of(response: Any) -> Any:
    return json.loads(response.content)
