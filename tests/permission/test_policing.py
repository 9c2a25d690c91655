"""The rule before every view, asked by itself: every method, everybody, every kind of record."""

from types import SimpleNamespace
from typing import Any

import pytest
from django.contrib.auth.models import AnonymousUser
from django.core.exceptions import PermissionDenied
from django.http import Http404
from django.test import RequestFactory

from keyctl.accounts import factors
from keyctl.accounts.fresh import SignInAgain, fresh_sign_in
from keyctl.field import access as field
from keyctl.lib.policy import Named, Policy
from keyctl.places.models import Membership
from keyctl.places.policing import EnforcePolicies, UndeclaredRoute, enforce, require
from keyctl.places.roles import Role
from keyctl.scim import access as scim
from keyctl.scim.errors import ScimRefusal
from tests import factories
from tests.api.client import make_api
from tests.cast import Cast

DOOR = Named("places.Door", ("floor__building__site",))


def asked(user: Any, method: str = "GET") -> Any:
    request = RequestFactory().generic(method, "/somewhere/?page=2")
    request.user = user
    return request


def test_methods_and_people(cast: Cast) -> None:
    policy = Policy.for_roles(reads=[Role.AUDITOR])
    refused = enforce(policy, asked(cast.auditor, "POST"), {})
    assert refused is not None
    assert (refused.status_code, refused["Allow"]) == (405, "GET")
    assert enforce(policy, asked(cast.auditor, "HEAD"), {}) is None
    led = enforce(policy, asked(AnonymousUser()), {})
    assert led is not None
    assert led["Location"].endswith("?next=/somewhere/%3Fpage%3D2")
    with pytest.raises(PermissionDenied):
        enforce(policy, asked(cast.locksmith), {})
    for open_ in (Policy.for_signed_in("GET"), Policy.for_roles(reads=[], personal=True)):
        assert enforce(open_, asked(cast.requester), {}) is None


@pytest.mark.parametrize(
    ("person", "is_wider", "refusal"),
    [
        ("auditor", False, None),
        ("locksmith", False, PermissionDenied),
        ("stranger", False, Http404),
        ("locksmith", True, PermissionDenied),
        ("stranger", True, None),
    ],
)
def test_a_record_belongs_to_its_site(person: str, is_wider: bool, refusal: Any, cast: Cast) -> None:
    """The stranger is an auditor elsewhere: that lets them on only where the view has a wider rule."""
    Membership.objects.create(user=cast.stranger, site=cast.south, role=Role.AUDITOR)
    named = DOOR.wider() if is_wider else DOOR
    facts = {"pk": factories.make_door(cast.north).pk}
    ask = (getattr(cast, person).pk, frozenset({Role.AUDITOR}), named, facts)
    if refusal is None:
        require(*ask)
    else:
        with pytest.raises(refusal):
            require(*ask)


def test_a_record_that_no_way_leads_from_is_of_no_site(cast: Cast) -> None:
    with pytest.raises(Http404):
        require(cast.auditor.pk, frozenset({Role.AUDITOR}), Named("places.Door", ()), {"pk": None})


@pytest.mark.parametrize("match", [None, SimpleNamespace(view_name="nowhere:at-all")])
def test_a_route_that_declares_nothing_is_served_to_nobody(match: Any, cast: Cast) -> None:
    request = asked(cast.administrator)
    request.resolver_match = match
    with pytest.raises(UndeclaredRoute):
        EnforcePolicies(lambda _request: None).process_view(request, lambda: None, (), {})  # type: ignore[arg-type,return-value]


def test_nobody_who_is_not_signed_in_proved_who_they_are(db: None) -> None:
    with pytest.raises(SignInAgain):
        fresh_sign_in(asked(AnonymousUser()))


def test_a_rule_of_trust_counts_once(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(factors, "_rules", [])

    def rule(_user: Any) -> bool:
        return True

    factors.register_rule(rule)
    factors.register_rule(rule)
    assert factors._rules == [rule]


def test_what_does_not_exist_is_not_found(cast: Cast) -> None:
    for text in ("nonsense", "0f8b9a1c-d2e3-4f5a-8b7c-6d5e4f3a2b1c"):
        with pytest.raises(Http404):
            scim.person_at(text)
    with pytest.raises(Http404):
        field.readable_photo(cast.locksmith, cast.north.pk)


def test_an_identity_provider_proves_itself_by_a_token_for_people(cast: Cast) -> None:
    with pytest.raises(ScimRefusal) as unknown:
        scim.provider_of(RequestFactory().get("/scim/v2/Users"))
    other = make_api(cast.administrator, cast.north).headers
    with pytest.raises(ScimRefusal) as narrow:
        scim.provider_of(RequestFactory().get("/scim/v2/Users", headers=other))
    assert (unknown.value.status, narrow.value.status) == (401, 403)
