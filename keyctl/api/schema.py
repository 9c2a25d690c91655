"""What the description of the API says beyond what the views show: token, headers, fields, every problem."""

from collections.abc import Mapping, Sequence
from copy import deepcopy
from typing import Any

from drf_spectacular.extensions import OpenApiAuthenticationExtension
from drf_spectacular.openapi import AutoSchema
from drf_spectacular.utils import OpenApiResponse
from rest_framework import serializers

from keyctl.api.auth import scope_of
from keyctl.api.kinds import KINDS
from keyctl.api.problems import MEDIA_TYPE
from keyctl.api.terms import Terms, terms_of

IF_NONE_MATCH = "Tags that the reader has already; 304 without a body where one of them still holds."
IF_MATCH = "The ETag of the state that the change was made for."
KEY = (
    "A string of your own for this request, between quotation marks. Sent again with the same one, the "
    "request is not done again: the first answer comes back."
)
FIELDS = "Only these fields of each row. All of them where it is left out."
TAG = "Stands for the whole state of the thing. Send it in If-Match with a change."
PLACE = "Where the new thing is."
LEFT = "How many requests of this kind the token has left (r), and for how many seconds that holds (t)."
POLICY = "How many requests of this kind (q) a token may send in so many seconds (w)."
WAIT = "In how many seconds to come again."
SAME = "The tag still holds: nothing has changed."


class ProblemErrorSerializer(serializers.Serializer[Any]):
    detail = serializers.CharField()
    pointer = serializers.CharField(required=False, help_text="A JSON pointer into the body, as a fragment.")
    parameter = serializers.CharField(required=False, help_text="The name of a query parameter.")
    header = serializers.CharField(required=False, help_text="The name of a header of the request.")


class ProblemSerializer(serializers.Serializer[Any]):
    """Problem details as RFC 9457 has them."""

    type = serializers.URLField(help_text="Names the kind of problem; the page there explains it.")
    title = serializers.CharField()
    status = serializers.IntegerField()
    detail = serializers.CharField()
    errors = ProblemErrorSerializer(many=True, required=False)  # type: ignore[assignment]  # declared field
    current = serializers.DictField(required=False, help_text="With 412: how the thing stands now.")

    def get_fields(self) -> dict[str, Any]:
        policies = serializers.ListField(
            child=serializers.CharField(), required=False, help_text="With 429: which limits were reached."
        )
        return super().get_fields() | {"violated-policies": policies}


class Described(AutoSchema):
    """An operation with the terms of its view: the headers that it takes and gives."""

    def get_operation(self, *args: Any) -> dict[str, Any] | None:
        operation: dict[str, Any] | None = super().get_operation(*args)
        if operation is not None and hasattr(self.view, "standing"):
            terms = terms_of(self.view)
            operation["parameters"] = [*operation.get("parameters", ()), *headers_taken(self.view, terms)]
            if "requestBody" in operation:
                operation["requestBody"]["required"] = True
            if terms.is_tagged:
                operation["responses"]["304"] = {"description": SAME}
            for code, response in operation["responses"].items():
                response["headers"] = response.get("headers", {}) | headers_given(terms, code)
        return operation


def headers_taken(view: Any, terms: Terms) -> list[dict[str, Any]]:
    found = []
    if terms.is_sparse:
        found.append(_fields(list(view.get_serializer_class()().fields)))
    if terms.is_tagged:
        found.append(_header("If-None-Match", IF_NONE_MATCH))
    if terms.is_matched:
        found.append(_header("If-Match", IF_MATCH, required=True))
    if terms.key:
        found.append(_header("Idempotency-Key", KEY, required=terms.key == "required"))
    return found


def headers_given(terms: Terms, code: str) -> dict[str, Any]:
    found = {"RateLimit": _given(LEFT), "RateLimit-Policy": _given(POLICY)}
    if (terms.is_tagged and code in {"200", "304"}) or (terms.is_matched and code in {"200", "412"}):
        found["ETag"] = _given(TAG)
    if code == "201":
        found |= {"ETag": _given(TAG), "Location": _given(PLACE, format="uri")}
    if code == "429":
        found["Retry-After"] = _given(WAIT)
    return found


def _fields(names: Sequence[str]) -> dict[str, Any]:
    schema = {"type": "array", "items": {"type": "string", "enum": list(names)}, "minItems": 1}
    place = {"name": "fields", "in": "query", "style": "form", "explode": False}
    return {**place, "description": FIELDS, "schema": schema}


def _header(name: str, words: str, *, required: bool = False) -> dict[str, Any]:
    schema = {"type": "string", "minLength": 1, "maxLength": 200}
    return {"name": name, "in": "header", "required": required, "description": words, "schema": schema}


def _given(words: str, **facts: str) -> dict[str, Any]:
    return {"description": words, "schema": {"type": "string", **facts}}


def share(result: dict[str, Any], **_facts: Any) -> dict[str, Any]:
    """What every operation says alike is said once: the headers, and each status that is a problem."""
    answers, headers = result["components"].setdefault("responses", {}), {}
    for operations in result["paths"].values():
        for operation in operations.values():
            for code, response in operation["responses"].items():
                for name, header in response.get("headers", {}).items():
                    headers[name] = header
                    response["headers"][name] = _reference(name, "headers")
                if MEDIA_TYPE in response.get("content", {}):
                    answers[f"Problem{code}"] = response
                    operation["responses"][code] = _reference(f"Problem{code}", "responses")
    result["components"]["headers"] = headers
    return result


def describe_parts(result: dict[str, Any], **_facts: Any) -> dict[str, Any]:
    """Where only some fields may be asked for, an answer is a part: the same fields, none required."""
    schemas = result["components"]["schemas"]
    for operations in result["paths"].values():
        operation = operations.get("get", {})
        for each in operation.get("parameters", ()):
            if each["name"] == "fields":
                answer = operation["responses"]["200"]["content"]["application/json"]
                answer["schema"] = _or_part(answer["schema"], schemas)
                each["schema"]["items"] = _named_once(each["schema"]["items"], answer["schema"], schemas)
    result["components"]["schemas"] = dict(sorted(schemas.items()))
    return result


def _or_part(reference: dict[str, Any], schemas: dict[str, Any]) -> dict[str, Any]:
    name = _name(reference)
    if name.startswith("Paginated"):
        rows = schemas[name]["properties"]["results"]
        rows["items"] = rows["items"] if "anyOf" in rows["items"] else _or_part(rows["items"], schemas)
        return reference
    part = {key: value for key, value in deepcopy(schemas[name]).items() if key != "required"}
    schemas[f"{name}Part"] = part | {"minProperties": 1}
    return {"anyOf": [reference, _reference(f"{name}Part")]}


def _named_once(names: dict[str, Any], answer: dict[str, Any], schemas: dict[str, Any]) -> dict[str, Any]:
    """The names of the fields as a type of their own, for the list and the detail alike."""
    part = answer if "anyOf" in answer else schemas[_name(answer)]["properties"]["results"]["items"]
    name = f"{_name(part['anyOf'][0])}Field"
    schemas[name] = names
    return _reference(name)


def _name(reference: dict[str, Any]) -> str:
    found: str = reference["$ref"].rsplit("/", 1)[1]
    return found


def _reference(name: str, kind: str = "schemas") -> dict[str, Any]:
    return {"$ref": f"#/components/{kind}/{name}"}


class TokenScheme(OpenApiAuthenticationExtension):  # type: ignore[no-untyped-call]
    target_class = "keyctl.api.auth.TokenAuthentication"
    name = "token"

    def get_security_definition(self, _auto_schema: AutoSchema) -> dict[str, str]:
        return {
            "type": "http",
            "scheme": "bearer",
            "bearerFormat": "kc_<prefix>_<secret>",
            "description": "A token that an administrator made. Each operation names the scope it needs.",
        }

    def get_security_requirement(self, auto_schema: AutoSchema) -> dict[str, list[str]]:
        scope = scope_of(auto_schema.view, auto_schema.method)
        return {self.name: [scope.value] if scope else []}


def answers(success: Mapping[int, Any], *refusals: int) -> dict[Any, Any]:
    """The responses of an operation: its success, the refusals every operation has, and its own."""
    statuses = sorted({401, 403, 406, 429, *refusals})
    return {**success, **{(status, MEDIA_TYPE): _problem(status) for status in statuses}}


def _problem(status: int) -> Any:
    titles = [kind.title for kind in KINDS.values() if kind.status == status]
    return OpenApiResponse(ProblemSerializer, description="; ".join(titles))
