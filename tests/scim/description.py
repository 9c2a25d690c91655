"""What RFC 7644 says of requests and answers, as far as this service offers it, written as OpenAPI.

The statuses are those of its section 3.12 and of the sections of each operation; the forms those of its
sections 3.4.2, 3.5.2 and 3.12, and of RFC 7643, 3.1 and 4.1. Nothing here is taken from the product.
"""

from typing import Any

from tests.scim.provider import ERROR, PATCH, TYPE, USER

Schema = dict[str, Any]

LISTED = "urn:ietf:params:scim:api:messages:2.0:ListResponse"
SEARCH = "urn:ietf:params:scim:api:messages:2.0:SearchRequest"


def messages(urn: str) -> Schema:
    return {"type": "array", "items": {"type": "string"}, "minItems": 1, "contains": {"const": urn}}


def told(required: list[str], **properties: Schema) -> Schema:
    return {"type": "object", "required": required, "properties": properties}


TEXT: Schema = {"type": "string"}
FLAG: Schema = {"type": "boolean"}
NUMBER: Schema = {"type": "integer"}

META = told(["resourceType", "location"], resourceType=TEXT, location=TEXT, version=TEXT)
ANSWERED = told(
    ["schemas", "id", "meta"], schemas=messages(USER), id=TEXT, userName=TEXT, active=FLAG, meta=META
)
SENT = told(
    ["schemas", "userName"],
    schemas={"type": "array", "items": {"const": USER}, "minItems": 1, "maxItems": 1},
    userName={"type": "string", "minLength": 1, "maxLength": 60},
    externalId=TEXT,
    displayName=TEXT,
    active=FLAG,
    name=told([], givenName=TEXT, familyName=TEXT, formatted=TEXT),
    emails={"type": "array", "items": told(["value"], value=TEXT, primary=FLAG, type=TEXT)},
)


def change(path: Schema, value: Schema) -> Schema:
    return told(["op", "path", "value"], op={"enum": ["add", "replace", "Replace"]}, path=path, value=value)


ANYTHING: Schema = {"anyOf": [TEXT, FLAG, {"type": "object"}, {"type": "array"}]}
NAMED: Schema = {"enum": ["displayName", "name.familyName", "title", 'emails[type eq "work"].value']}
OPERATION: Schema = {
    "anyOf": [
        change({"const": "active"}, FLAG),
        change(NAMED, {"type": "string", "minLength": 1, "maxLength": 40}),
        told(["op", "path"], op={"enum": ["remove", "Remove"]}, path=NAMED),
        told(["op", "value"], op={"enum": ["add", "replace"]}, path=TEXT, value=ANYTHING),
    ]
}
CHANGED = told(
    ["schemas", "Operations"],
    schemas={"type": "array", "items": {"const": PATCH}, "minItems": 1, "maxItems": 1},
    Operations={"type": "array", "items": OPERATION, "minItems": 1, "maxItems": 4},
)
PAGE = told(
    ["schemas", "totalResults"], schemas=messages(LISTED), totalResults=NUMBER, Resources={"type": "array"}
)
FAULT = told(["schemas", "status"], schemas=messages(ERROR), status=TEXT, scimType=TEXT, detail=TEXT)
ASKED = told(
    ["schemas"],
    schemas={"type": "array", "items": {"const": SEARCH}, "minItems": 1, "maxItems": 1},
    filter=TEXT,
    startIndex=NUMBER,
    count=NUMBER,
    attributes={"type": "array", "items": TEXT},
)

FILTERS = ['userName eq "ada"', "active eq true", 'userName sw "a" and not (active eq false)']
FILTER: Schema = {"anyOf": [{"enum": FILTERS}, TEXT]}
NAMES = told([], filter=FILTER, startIndex=NUMBER, count=NUMBER, attributes=TEXT, excludedAttributes=TEXT)


def body(schema: Schema) -> Schema:
    return {"content": {TYPE: {"schema": schema}}}


def operation(
    success: Schema, *refusals: int, sent: Schema | None = None, asked: Schema | None = None
) -> Schema:
    faults = {str(status): {"description": "a fault", **body(FAULT)} for status in (401, 403, *refusals)}
    parameters = [
        {"name": name, "in": "query", "schema": schema}
        for name, schema in (asked or {"properties": {}})["properties"].items()
    ]
    found: Schema = {"parameters": parameters, "responses": {**success, **faults}}
    if sent is not None:
        found["requestBody"] = {"required": True, **body(sent)}
    return found


def success(status: int, schema: Schema | None = None) -> Schema:
    return {str(status): {"description": "done", **(body(schema) if schema else {})}}


ID = {"name": "id", "in": "path", "required": True, "schema": {"type": "string", "format": "uuid"}}
PATHS: dict[str, Schema] = {
    "/scim/v2/Users": {
        "get": operation(success(200, PAGE), 400, asked=NAMES),
        "post": operation(success(201, ANSWERED), 400, 409, 413, 415, sent=SENT),
    },
    "/scim/v2/Users/{id}": {
        "parameters": [ID],
        "get": operation(success(200, ANSWERED), 400, 404),
        "put": operation(success(200, ANSWERED), 400, 404, 409, 412, 413, 415, sent=SENT),
        "patch": operation(success(200, ANSWERED), 400, 404, 409, 412, 413, 415, sent=CHANGED),
        "delete": operation(success(204), 400, 404, 409, 412),
    },
    "/scim/v2/.search": {"post": operation(success(200, PAGE), 400, 413, 415, sent=ASKED)},
}


def description() -> Schema:
    return {"openapi": "3.1.0", "info": {"title": "RFC 7644", "version": "2.0"}, "paths": PATHS}
