"""Bodies that the RFCs print, sent as they stand; the section stands beside each."""

from typing import Any

import pytest

from tests.scim.provider import ENTERPRISE, USER, Provider

# RFC 7643, 8.1: a minimal User.
MINIMAL = {
    "schemas": [USER],
    "id": "2819c223-7f76-453a-919d-413861904646",
    "userName": "bjensen@example.com",
    "meta": {
        "resourceType": "User",
        "created": "2010-01-23T04:56:22Z",
        "lastModified": "2011-05-13T04:42:34Z",
        "version": 'W/"3694e05e9dff590"',
        "location": "https://example.com/v2/Users/2819c223-7f76-453a-919d-413861904646",
    },
}
# RFC 7643, 8.2: a full User (attributes that keys have no use for are among them).
FULL: dict[str, Any] = {
    "schemas": [USER],
    "externalId": "701984",
    "userName": "bjensen@example.com",
    "name": {
        "formatted": "Ms. Barbara J Jensen, III",
        "familyName": "Jensen",
        "givenName": "Barbara",
        "middleName": "Jane",
        "honorificPrefix": "Ms.",
        "honorificSuffix": "III",
    },
    "displayName": "Babs Jensen",
    "nickName": "Babs",
    "profileUrl": "https://login.example.com/bjensen",
    "emails": [
        {"value": "bjensen@example.com", "type": "work", "primary": True},
        {"value": "babs@jensen.org", "type": "home"},
    ],
    "addresses": [
        {
            "streetAddress": "100 Universal City Plaza",
            "locality": "Hollywood",
            "region": "CA",
            "postalCode": "91608",
            "country": "USA",
            "formatted": "100 Universal City Plaza\nHollywood, CA 91608 USA",
            "type": "work",
            "primary": True,
        }
    ],
    "phoneNumbers": [{"value": "555-555-5555", "type": "work"}, {"value": "555-555-4444", "type": "mobile"}],
    "ims": [{"value": "someaimhandle", "type": "aim"}],
    "photos": [{"value": "https://photos.example.com/profilephoto/72930000000Ccne/F", "type": "photo"}],
    "userType": "Employee",
    "title": "Tour Guide",
    "preferredLanguage": "en-US",
    "locale": "en-US",
    "timezone": "America/Los_Angeles",
    "active": True,
    "password": "t1meMa$heen",
}
# RFC 7643, 8.3: what the enterprise extension adds.
EXTENSION = {
    "employeeNumber": "701984",
    "costCenter": "4130",
    "organization": "Universal Studios",
    "division": "Theme Park",
    "department": "Tour Operations",
    "manager": {
        "value": "26118915-6090-4610-87e4-49d8ca9f808d",
        "$ref": "../Users/26118915-6090-4610-87e4-49d8ca9f808d",
        "displayName": "John Smith",
    },
}
# RFC 7644, 3.3: the request that creates a User.
CREATE = {
    "schemas": [USER],
    "userName": "bjensen",
    "externalId": "bjensen",
    "name": {"formatted": "Ms. Barbara J Jensen III", "familyName": "Jensen", "givenName": "Barbara"},
}
# RFC 7644, 3.5.2.1: an address is added, by path and without one.
ADD_EMAIL = {
    "op": "add",
    "value": {"emails": [{"value": "babs@jensen.org", "type": "home"}], "nickName": "Babs"},
}
# RFC 7644, 3.5.2.3: replacing within a value, and several attributes at once.
REPLACE_SOME: dict[str, Any] = {
    "op": "replace",
    "value": {
        "emails": [
            {"value": "bjensen@example.com", "type": "work", "primary": True},
            {"value": "babs@jensen.org", "type": "home"},
        ],
        "nickName": "Babs",
    },
}


def test_a_minimal_user_is_made_under_an_id_of_ours(provider: Provider) -> None:
    """RFC 7643, 8.1; by RFC 7643, 3.1 the client's own id and meta count for nothing."""
    made = provider.send("POST", "Users", MINIMAL)
    assert made.status_code == 201
    assert made.json()["id"] != MINIMAL["id"]
    assert made.json()["meta"]["created"][:4] != "2010"
    assert made["Location"] == made.json()["meta"]["location"]
    assert made["ETag"] == made.json()["meta"]["version"]


def test_of_a_full_user_what_is_kept_comes_back_as_given(provider: Provider) -> None:
    """RFC 7643, 8.2."""
    made = provider.send("POST", "Users", FULL).json()
    for name in ("externalId", "userName", "displayName", "userType", "active", "emails"):
        assert made[name] == FULL[name]
    assert made["name"] == {name: FULL["name"][name] for name in ("formatted", "familyName", "givenName")}
    assert "password" not in made


def test_the_enterprise_extension_is_kept_where_it_means_something(provider: Provider) -> None:
    """RFC 7643, 8.3."""
    body = FULL | {"schemas": [USER, ENTERPRISE], ENTERPRISE: EXTENSION}
    made = provider.send("POST", "Users", body).json()
    assert made[ENTERPRISE] == {"employeeNumber": "701984", "department": "Tour Operations"}
    assert set(made["schemas"]) == {USER, ENTERPRISE}


def test_a_user_is_made_and_read(provider: Provider) -> None:
    """RFC 7644, 3.3 and 3.4.1."""
    made = provider.send("POST", "Users", CREATE)
    assert made.status_code == 201
    read = provider.get(f"Users/{made.json()['id']}")
    assert read.json() == made.json()
    assert read["Content-Type"] == "application/scim+json"


def test_a_user_that_exists_is_a_conflict(provider: Provider) -> None:
    """RFC 7644, 3.3: status 409, scimType uniqueness."""
    provider.send("POST", "Users", CREATE)
    again = provider.send("POST", "Users", CREATE | {"userName": "BJENSEN", "externalId": "other"})
    assert (again.status_code, again.json()["scimType"]) == (409, "uniqueness")


def test_a_list_is_counted_from_one(provider: Provider) -> None:
    """RFC 7644, 3.4.2.4."""
    for number in range(5):
        provider.create(f"user{number}")
    page = provider.get("Users", startIndex=2, count=2).json()
    assert (page["totalResults"], page["startIndex"], page["itemsPerPage"]) == (5, 2, 2)
    assert [user["userName"] for user in page["Resources"]] == ["user1", "user2"]


# RFC 7644, 3.4.2.2, figure 2: those of its filters that ask for what is kept here.
@pytest.mark.parametrize(
    ("text", "names"),
    [
        ('userName eq "bjensen"', ["bjensen"]),
        ('name.familyName co "O\'Malley"', ["omalley"]),
        ('userName sw "J"', ["jsmith"]),
        ('urn:ietf:params:scim:schemas:core:2.0:User:userName sw "J"', ["jsmith"]),
        ('meta.lastModified gt "2011-05-13T04:42:34Z"', ["bjensen", "jsmith", "omalley"]),
        ('meta.lastModified lt "2011-05-13T04:42:34Z"', []),
        ('userType eq "Employee" and (emails co "example.com" or emails.value co "example.org")', None),
        ('userName sw "b" and (emails co "example.com" or emails.value co "example.org")', ["bjensen"]),
        ('emails[type eq "work" and value co "@example.com"]', ["bjensen"]),
    ],
)
def test_the_filters_of_the_rfc(provider: Provider, text: str, names: list[str] | None) -> None:
    provider.create("bjensen", emails=[{"value": "bjensen@example.com", "type": "work"}])
    provider.create("jsmith", emails=[{"value": "jsmith@example.net", "type": "work"}])
    provider.create("omalley", name={"familyName": "O'Malley"})
    response = provider.get("Users", filter=text)
    if names is None:
        assert response.json()["scimType"] == "invalidFilter"
        return
    assert [user["userName"] for user in response.json()["Resources"]] == names


def test_a_user_is_replaced_and_what_is_left_out_goes(provider: Provider) -> None:
    """RFC 7644, 3.5.1."""
    made = provider.create("bjensen", displayName="Babs Jensen", emails=[{"value": "babs@jensen.org"}])
    body = {"schemas": [USER], "id": made["id"], "userName": "bjensen", "externalId": "bjensen"}
    put = provider.send("PUT", f"Users/{made['id']}", body).json()
    assert put["externalId"] == "bjensen"
    assert "emails" not in put
    assert "displayName" not in put
    assert put["active"] is True


def test_an_address_is_added_without_a_path(provider: Provider) -> None:
    """RFC 7644, 3.5.2.1."""
    made = provider.create("bjensen", emails=[{"value": "bjensen@example.com", "type": "work"}])
    patched = provider.patch(made["id"], ADD_EMAIL)
    assert patched.status_code == 200
    assert [email["value"] for email in patched.json()["emails"]] == [
        "bjensen@example.com",
        "babs@jensen.org",
    ]


def test_an_address_is_removed_by_a_filter(provider: Provider) -> None:
    """RFC 7644, 3.5.2.2: the shape of its example, on addresses."""
    emails = [{"value": "a@example.com", "type": "work"}, {"value": "b@example.com", "type": "home"}]
    made = provider.create("bjensen", emails=emails)
    removed = provider.patch(made["id"], {"op": "remove", "path": 'emails[type eq "work"]'}).json()
    assert [email["value"] for email in removed["emails"]] == ["b@example.com"]


def test_a_value_within_an_address_is_replaced(provider: Provider) -> None:
    """RFC 7644, 3.5.2.3: one sub-attribute by a value filter, then several attributes at once."""
    made = provider.create("bjensen", emails=[{"value": "a@example.com", "type": "work"}])
    operation = {"op": "replace", "path": 'emails[type eq "work"].value', "value": "new@example.com"}
    patched = provider.patch(made["id"], operation).json()
    assert patched["emails"] == [{"value": "new@example.com", "type": "work"}]
    assert provider.patch(made["id"], REPLACE_SOME).json()["emails"] == REPLACE_SOME["value"]["emails"]


def test_a_user_is_deleted_and_not_found_any_more(provider: Provider) -> None:
    """RFC 7644, 3.6."""
    made = provider.create("bjensen")
    assert provider.send("DELETE", f"Users/{made['id']}").status_code == 204
    for method in ("GET", "DELETE"):
        assert provider.send(method, f"Users/{made['id']}").status_code == 404
    assert provider.send("PUT", f"Users/{made['id']}", CREATE).status_code == 404
    assert provider.names() == []
