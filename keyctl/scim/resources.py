"""What this service tells of itself: the part of a User that is kept (RFC 7643, 4.1 and 4.3), and what works.

The library knows the bodies of SCIM; the attributes here are those that mean something to keys.
"""

from typing import Annotated, Any

from django.conf import settings
from scim2_models import URN as Urn
from scim2_models import (
    AuthenticationScheme,
    Bulk,
    ChangePassword,
    ComplexAttribute,
    ETag,
    Extension,
    Filter,
    Patch,
    Required,
    Resource,
    ResourceType,
    ScimPolicy,
    ServiceProviderConfig,
    Sort,
    Uniqueness,
)

MOST_RESULTS = 200
USUAL_RESULTS = 100

# Identity providers send more than is kept, and a path filter for an entry that is yet to be made.
TOLERANT = ScimPolicy(
    unknown=ScimPolicy.Unknown.ignore,
    remove_value_as_filter=ScimPolicy.RemoveValue.apply,
    unmatched_path_filter=ScimPolicy.UnmatchedPathFilter.create,
)


class Name(ComplexAttribute):
    formatted: str | None = None
    family_name: str | None = None
    given_name: str | None = None


class Email(ComplexAttribute):
    value: str | None = None
    display: str | None = None
    type: str | None = None
    primary: bool | None = None


class User(Resource[Any]):
    """A person who may hold keys."""

    __schema__ = Urn("urn:ietf:params:scim:schemas:core:2.0:User")

    user_name: Annotated[str | None, Uniqueness.server, Required.true] = None
    name: Name | None = None
    display_name: str | None = None
    user_type: str | None = None
    active: bool | None = None
    emails: list[Email] | None = None


class EnterpriseUser(Extension):
    """Where a person belongs in the house."""

    __schema__ = Urn("urn:ietf:params:scim:schemas:extension:enterprise:2.0:User")

    employee_number: str | None = None
    department: str | None = None


Person = User[EnterpriseUser]  # type: ignore[type-arg]  # the library makes the class
ENTERPRISE = str(EnterpriseUser.__schema__)


def base_url() -> str:
    return f"{settings.BASE_URL}/scim/v2"


def resource_type() -> ResourceType:
    return ResourceType.from_resource(Person)


def schemas() -> list[Any]:
    return [User.to_schema(), EnterpriseUser.to_schema()]


def config() -> ServiceProviderConfig:
    return ServiceProviderConfig(
        patch=Patch(supported=True),
        bulk=Bulk(supported=False, max_operations=0, max_payload_size=0),
        filter=Filter(supported=True, max_results=MOST_RESULTS),
        change_password=ChangePassword(supported=False),
        sort=Sort(supported=False),
        etag=ETag(supported=True),
        authentication_schemes=[
            AuthenticationScheme(
                type=AuthenticationScheme.Type.oauthbearertoken,
                name="Access token",
                description="A token with the scope people, sent as a bearer token (RFC 6750).",
                primary=True,
            )
        ],
    )
