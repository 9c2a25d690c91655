"""Users over HTTP: tags, what is asked for, uniqueness, patches that providers really send, discovery."""

from typing import Any

import pytest

from keyctl.keys.models import Person
from tests.scim.provider import ENTERPRISE, USER, Provider, scim_error


def test_who_read_an_older_version_is_told(provider: Provider) -> None:
    made = provider.create()
    operation = {"op": "replace", "path": "displayName", "value": "Ada"}
    first = provider.patch(made["id"], operation, **{"if-match": made["meta"]["version"]})
    assert first.status_code == 200
    assert first["ETag"] != made["meta"]["version"]
    second = provider.patch(made["id"], operation, **{"if-match": made["meta"]["version"]})
    scim_error(second, 412)
    scim_error(provider.send("DELETE", f"Users/{made['id']}", **{"if-match": made["meta"]["version"]}), 412)


def test_what_did_not_change_is_not_sent_again(provider: Provider) -> None:
    made = provider.create()
    response = provider.send("GET", f"Users/{made['id']}", **{"if-none-match": made["meta"]["version"]})
    assert (response.status_code, response.content) == (304, b"")


def test_a_change_by_hand_is_another_version(provider: Provider) -> None:
    made = provider.create()
    Person.objects.filter(pk=made["id"]).update(department="Physics")
    read = provider.get(f"Users/{made['id']}").json()
    assert read["meta"]["version"] != made["meta"]["version"]
    assert read[ENTERPRISE] == {"department": "Physics"}


def test_only_what_is_asked_for_comes(provider: Provider) -> None:
    made = provider.create(displayName="Ada", emails=[{"value": "ada@example.org", "type": "work"}])
    some = provider.get(f"Users/{made['id']}", attributes="displayName,emails.value").json()
    assert some["emails"] == [{"value": "ada@example.org"}]
    assert set(some) == {"schemas", "id", "displayName", "emails"}
    most = provider.get(f"Users/{made['id']}", excludedAttributes="emails,meta").json()
    assert not {"emails", "meta"} & set(most)
    (listed,) = provider.get("Users", attributes="userName").json()["Resources"]
    assert set(listed) == {"schemas", "id", "userName"}


@pytest.mark.parametrize("facts", [{"userName": "ADA@example.org"}, {"userName": "b", "externalId": "7"}])
def test_nobody_gets_somebody_elses_name_or_identifier(provider: Provider, facts: dict[str, Any]) -> None:
    provider.create("ada@example.org", externalId="7")
    other = provider.create("other")
    scim_error(provider.send("POST", "Users", {"schemas": [USER], **facts}), 409, "uniqueness")
    operations = [{"op": "replace", "value": facts}]
    scim_error(provider.patch(other["id"], *operations), 409, "uniqueness")
    scim_error(provider.send("PUT", f"Users/{other['id']}", facts), 409, "uniqueness")


def test_who_has_no_user_name_is_lent_one_and_keeps_none(provider: Provider) -> None:
    """RFC 7643, 4.1.1: userName is required; a list of people may know none."""
    pk = str(Person.objects.create(display_name="Ada", external_id="A7").pk)
    assert provider.get(f"Users/{pk}").json()["userName"] == "A7"
    provider.patch(pk, {"op": "remove", "path": "displayName"})
    assert Person.objects.get(pk=pk).display_name == "Ada"
    provider.patch(pk, {"op": "replace", "path": "displayName", "value": "Ada Example"})
    assert Person.objects.get(pk=pk).user_name == ""
    provider.patch(pk, {"op": "replace", "path": "userName", "value": "ada"})
    assert Person.objects.get(pk=pk).user_name == "ada"


def test_a_patch_is_done_wholly_or_not_at_all(provider: Provider) -> None:
    provider.create("taken")
    other = provider.create("other", displayName="Other")
    operations: list[dict[str, Any]] = [
        {"op": "replace", "path": "displayName", "value": "New"},
        {"op": "replace", "path": "userName", "value": "taken"},
    ]
    scim_error(provider.patch(other["id"], *operations), 409, "uniqueness")
    assert provider.get(f"Users/{other['id']}").json()["displayName"] == "Other"


def test_patches_that_providers_really_send(provider: Provider) -> None:
    """Capitals in op, a path filter whose entry is yet to be made, extension paths, dotted keys."""
    made = provider.create()
    patched = provider.patch(
        made["id"],
        {"op": "Add", "path": 'emails[type eq "work"].value', "value": "new@example.org"},
        {"op": "Replace", "path": f"{ENTERPRISE}:department", "value": "Physics"},
        {"op": "Replace", "value": {"name.familyName": "Example", f"{ENTERPRISE}:employeeNumber": "12"}},
        {"op": "Add", "path": "nickName", "value": "Not kept"},
    )
    assert patched.status_code == 200, patched.content
    body = patched.json()
    assert body["emails"] == [{"value": "new@example.org", "type": "work"}]
    assert body[ENTERPRISE] == {"department": "Physics", "employeeNumber": "12"}
    assert body["name"] == {"familyName": "Example"}
    person = Person.objects.get(pk=made["id"])
    assert (person.email, person.department) == ("new@example.org", "Physics")


@pytest.mark.parametrize(
    ("operation", "kind"),
    [
        ({"op": "remove"}, "noTarget"),
        ({"op": "add", "path": "displayName"}, "invalidValue"),
        ({"op": "move", "path": "displayName", "value": "A"}, "invalidValue"),
        ({"op": "replace", "path": "emails[", "value": "A"}, "invalidPath"),
        ({"op": "replace", "path": "id", "value": "A"}, "mutability"),
        ({"op": "remove", "path": "userName"}, None),
        ({"op": "replace", "path": "active", "value": "perhaps"}, "invalidValue"),
        ({"op": "replace", "path": "emails", "value": [{"value": "nobody at all"}]}, "invalidValue"),
    ],
)
def test_a_patch_that_means_nothing_is_refused(
    provider: Provider, operation: dict[str, Any], kind: str | None
) -> None:
    made = provider.create(displayName="Ada")
    response = provider.patch(made["id"], operation)
    scim_error(response, 400, kind or response.json()["scimType"])
    assert provider.get(f"Users/{made['id']}").json() == made


@pytest.mark.parametrize(
    ("text", "names"),
    [
        ('userName eq "ADA"', ["ada"]),
        ('externalId eq "A7"', ["ada"]),
        ('externalId eq "a7"', []),
        ('displayName co "exam" and active eq true', ["ada"]),
        ('active eq "False"', ["ben"]),
        ('not (userName eq "ada")', ["ben"]),
        ("emails pr", ["ada"]),
        ('emails.value eq "ada@example.org" or userName eq "ben"', ["ada", "ben"]),
        (f'{ENTERPRISE}:department eq "Physics"', ["ada"]),
        ('id eq "no-such-id"', []),
        ('userName ne "ada"', ["ben"]),
    ],
)
def test_people_are_found_by(provider: Provider, text: str, names: list[str]) -> None:
    body = {ENTERPRISE: {"department": "Physics"}, "emails": [{"value": "ada@example.org"}]}
    provider.create("ada", externalId="A7", displayName="Ada Example", **body)
    provider.create("ben", active=False)
    assert provider.names(filter=text) == names
    asked = {"schemas": ["urn:ietf:params:scim:api:messages:2.0:SearchRequest"], "filter": text, "count": 10}
    searched = provider.send("POST", "Users/.search", asked).json()
    assert [user["userName"] for user in searched["Resources"]] == names


def test_pages_are_bounded(provider: Provider) -> None:
    for number in range(3):
        provider.create(f"u{number}")
    none = provider.get("Users", count=0).json()
    assert (none["totalResults"], none["itemsPerPage"], none["Resources"]) == (3, 0, [])
    assert len(provider.get("Users", count=10**30).json()["Resources"]) == 3
    assert provider.get("Users", startIndex=-5).json()["startIndex"] == 1
    assert provider.get("Users", startIndex=10**30).json()["Resources"] == []
    scim_error(provider.get("Users", count="many"), 400, "invalidValue")


def test_what_the_service_is(provider: Provider) -> None:
    """RFC 7644, 4: what works is said, and what does not."""
    config = provider.get("ServiceProviderConfig").json()
    supported = {name: config[name]["supported"] for name in ("patch", "bulk", "filter", "sort", "etag")}
    assert supported == {"patch": True, "bulk": False, "filter": True, "sort": False, "etag": True}
    (kind,) = provider.get("ResourceTypes").json()["Resources"]
    assert (kind["endpoint"], kind["schema"]) == ("/Users", USER)
    assert provider.get("ResourceTypes/User").json() == kind
    schemas = {schema["id"]: schema for schema in provider.get("Schemas").json()["Resources"]}
    assert set(schemas) == {USER, ENTERPRISE}
    assert provider.get(f"Schemas/{USER}").json() == schemas[USER]
    scim_error(provider.get("Schemas/urn:none"), 404)
    scim_error(provider.get("Schemas", filter="id pr"), 403)


def test_there_are_no_groups_and_it_is_said(provider: Provider) -> None:
    assert provider.get("Groups").json()["totalResults"] == 0
    scim_error(provider.send("POST", "Groups", {"displayName": "G"}), 501)
    scim_error(provider.send("POST", "Bulk", {}), 501)
    scim_error(provider.get("Me"), 501)


@pytest.mark.parametrize(
    ("method", "path"), [("PATCH", "Users"), ("DELETE", "ServiceProviderConfig"), ("POST", "Schemas")]
)
def test_a_method_that_does_not_work_names_those_that_do(provider: Provider, method: str, path: str) -> None:
    response = provider.send(method, path, {})
    scim_error(response, 405)
    assert "GET" in response["Allow"]
