"""Whatever is sent, the answer is a SCIM error, never a trace."""

import json
from typing import Any

import pytest
from django.test import Client
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from keyctl.api.models import Scope
from tests.api.client import make_api
from tests.cast import Cast
from tests.scim.provider import PATCH, ROOT, USER, Provider, scim_error

DEEP = b'{"a":' * 500 + b"1" + b"}" * 500
BODIES = [
    b"",
    b"null",
    b"[]",
    b'"text"',
    b"{",
    b"\xff\xfe",
    b'{"userName": NaN}',
    b'{"userName": "a\\u0000b"}',
    b'{"userName": "\\ud800"}',
    b'{"userName": "a", "\\u0000": 1}',
    b'{"userName": {"a": 1}}',
    b'{"userName": ["a"]}',
    b'{"userName": 7}',
    b'{"userName": ""}',
    b'{"userName": "   "}',
    b'{"schemas": 7, "userName": "a"}',
    b'{"schemas": ["urn:none"], "userName": "a", "urn:none": {}}',
    b'{"userName": "a", "emails": {"value": "a"}}',
    b'{"userName": "a", "emails": [7]}',
    b'{"userName": "a", "active": "perhaps"}',
    b'{"userName": "a", "active": ' + b"9" * 5000 + b"}",
    b'{"userName": "a", "name": "Ada"}',
    b'{"userName": "' + b"a" * 400 + b'"}',
    b'{"userName": "a", "emails": [{"value": "a\\r\\nBcc: b@example.org"}]}',
    b'{"userName": "a", "urn:ietf:params:scim:schemas:extension:enterprise:2.0:User": 7}',
    DEEP,
    b"[" * 100_000,
    b'{"userName": "a", "emails": [' + b"1," * 30_000 + b"1]}",
    b'{"userName": "' + b"a" * 300_000 + b'"}',
]
PATCHES: list[Any] = [
    None,
    7,
    [],
    {},
    [7],
    [{}],
    [{"op": 7}],
    [{"op": "add", "path": 7, "value": 1}],
    [{"op": "add", "path": "a" * 5000, "value": 1}],
    [{"op": "add", "path": "(" * 500, "value": 1}],
    [{"op": "add", "path": 'emails[type eq "' + "a" * 5000 + '"]', "value": 1}],
    [{"op": "add", "path": "emails[not (" * 50, "value": 1}],
    [{"op": "add", "path": "meta.version", "value": "1"}],
    [{"op": "replace", "value": "text"}],
    [{"op": "replace", "value": {"emails": 7}}],
    [{"op": "replace", "path": "schemas", "value": []}],
    [{"op": "remove", "path": "schemas"}],
    [{"op": "add", "path": "emails", "value": {"value": {"value": 1}}}],
    [{"op": "replace", "path": "displayName", "value": {"a": []}}],
    [{"op": "replace", "path": "name", "value": "x"}],
    [{"op": "add", "path": "name.givenName.x", "value": "x"}],
    [{"op": "add", "path": "urn:none:x", "value": "x"}],
]
FILTERS = [
    "(",
    "userName",
    "userName eq",
    'userName eq "a',
    "userName eq 7",
    "userName gt 7",
    'active co "t"',
    "not " * 100,
    "(" * 400,
    'userName eq "a" and ' * 300,
    "password pr",
    'userName[type eq "a"]',
    'emails[emails[type eq "a"]]',
    'meta.lastModified gt "yesterday"',
    'meta.lastModified gt "9999-99-99T99:99:99Z"',
    'meta.lastModified gt "0001-01-01T00:00:00+14:00"',
    'meta.lastModified gt "9999-12-31T23:59:59-14:00"',
    'meta.created eq "2030-02-30T00:00:00Z"',
    "id gt 7",
    "\x00",
]


@pytest.mark.parametrize("body", BODIES)
def test_a_body_that_is_no_user(provider: Provider, body: bytes) -> None:
    for method, path in (("POST", "Users"), ("POST", "Users/.search")):
        response = provider.send(method, path, body)
        assert response.status_code in {200, 201, 400, 413}, response.content
        if response.status_code >= 400:
            scim_error(response, response.status_code, response.json().get("scimType"))


@pytest.mark.parametrize("operations", PATCHES)
def test_a_patch_that_is_none(provider: Provider, operations: Any) -> None:
    made = provider.create()
    response = provider.send("PATCH", f"Users/{made['id']}", {"schemas": [PATCH], "Operations": operations})
    assert response.status_code in {200, 400}, response.content
    if response.status_code == 400:
        scim_error(response, 400, response.json().get("scimType"))


@pytest.mark.parametrize("text", FILTERS)
def test_a_filter_that_is_none(provider: Provider, text: str) -> None:
    response = provider.get("Users", filter=text)
    scim_error(response, 400, response.json()["scimType"])


@pytest.mark.parametrize("pk", ["x", "%00", "0" * 500, "../..", "Users", "é"])
def test_an_id_that_is_none(provider: Provider, pk: str) -> None:
    for method in ("GET", "DELETE"):
        assert provider.send(method, f"Users/{pk}").status_code in {400, 404, 405}


JSON = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=20),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=12), inner, max_size=3),
    max_leaves=8,
)
NAMES = st.sampled_from(
    ["userName", "name", "emails", "active", "displayName", "externalId", "schemas", "userType"]
)
PATHS = st.sampled_from(
    ["emails", 'emails[type eq "work"].value', "name", "name.givenName", "active", "userName"]
)


@settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(body=st.dictionaries(NAMES, JSON, max_size=5), path=PATHS, value=JSON)
def test_no_json_brings_a_trace(provider: Provider, body: dict[str, Any], path: str, value: Any) -> None:
    raw = json.dumps({"userName": "somebody"} | body).encode()
    made = provider.send("POST", "Users", raw)
    assert made.status_code in {201, 400, 409}, made.content
    known = provider.get("Users", count=1).json()["Resources"]
    if known:
        operations = [{"op": op, "path": path, "value": value} for op in ("add", "replace")]
        raw = json.dumps({"schemas": [PATCH], "Operations": operations}).encode()
        assert provider.send("PATCH", f"Users/{known[0]['id']}", raw).status_code in {200, 400, 409}


def test_another_media_type_is_refused(provider: Provider) -> None:
    scim_error(provider.send("POST", "Users", b"<xml/>", content_type="application/xml"), 415)


@pytest.mark.parametrize("method", ["DISPATCH", "SETUP", "PROVIDER", "_HANDLER", "TRACE", "FROB"])
def test_a_word_that_is_no_method(provider: Provider, method: str) -> None:
    scim_error(provider.send(method, "Users"), 405)


def test_without_a_token_nothing_is_told(provider: Provider) -> None:
    for path in ("Users", "ServiceProviderConfig", "nowhere"):
        response = Client().get(ROOT + path)
        scim_error(response, 401)
        assert response["WWW-Authenticate"].startswith("Bearer")
    scim_error(Provider("kc_wrong").get("Users"), 401)


def test_another_scope_is_not_enough(cast: Cast) -> None:
    reader = make_api(cast.administrator, cast.north, scopes=[Scope.ESTATE_READ])
    assert reader.bearer
    scim_error(Provider(reader.bearer).get("Users"), 403)


def test_a_token_for_people_reads_no_estate(provider: Provider) -> None:
    response = Client().get("/api/v1/sites/", headers={"authorization": f"Bearer {provider.bearer}"})
    assert response.status_code == 403


def test_a_nameless_user_is_refused(provider: Provider) -> None:
    scim_error(provider.send("POST", "Users", {"schemas": [USER]}), 400, "invalidValue")
