"""The coarse rule before every view, on routes of the test's own: two of everybody, at two sites.

The views here refuse nothing, so whatever is refused the rule refuses.
"""

from collections.abc import Iterator
from typing import Any

import pytest
from django.http import HttpRequest, HttpResponse
from django.test import Client, override_settings
from django.urls import include, path, reverse

from keyctl.lib import policy
from keyctl.lib.policy import Named, Policy, unsound_routes
from keyctl.places.models import Door, Membership
from keyctl.places.policing import UndeclaredRoute
from keyctl.places.roles import Role
from tests.cast import Cast
from tests.factories import make_door

DOOR = Named("places.Door", ("floor__building__site",))
SMITHS = (Role.LOCKSMITH,)
DECLARED = {
    "door": Policy.for_roles(reads=SMITHS, at=DOOR),
    "wide": Policy.for_roles(reads=SMITHS, at=DOOR.wider()),
    "own": Policy.for_roles(reads=(), at=DOOR, personal=True),
    "list": Policy.for_roles(reads=SMITHS, writes=(Role.OFFICER,)),
    "signed": Policy.for_signed_in("GET"),
}


def served(_request: HttpRequest, **_parameters: Any) -> HttpResponse:
    return HttpResponse("served")


urlpatterns = [
    *(path(f"{name}/<uuid:pk>/", served, name=name) for name in ("door", "wide", "own")),
    *(path(f"{name}/", served, name=name) for name in ("list", "signed", "forgotten")),
    # The frame of a refusal links to the product's own pages.
    path("", include("keyctl.urls")),
]


@pytest.fixture(autouse=True)
def known(monkeypatch: pytest.MonkeyPatch) -> Iterator[dict[str, Policy]]:
    known = policy.declared() | DECLARED
    monkeypatch.setattr("keyctl.places.policing.declared", lambda: known)
    monkeypatch.setattr(policy, "declared", lambda: known)
    with override_settings(ROOT_URLCONF=__name__):
        yield known


@pytest.fixture
def door(cast: Cast) -> Door:
    return make_door(cast.north)


def code(client: Client, who: Any, address: str, method: str = "get") -> int:
    client.force_login(who)
    answer: int = getattr(client, method)(address).status_code
    return answer


def test_the_role_at_the_records_site_is_served(client: Client, cast: Cast, door: Door) -> None:
    assert code(client, cast.locksmith, f"/door/{door.pk}/") == 200


def test_another_role_there_is_forbidden(client: Client, cast: Cast, door: Door) -> None:
    assert code(client, cast.officer, f"/door/{door.pk}/") == 403


def test_the_role_at_another_site_finds_nothing(client: Client, cast: Cast, door: Door) -> None:
    assert code(client, cast.stranger, f"/door/{door.pk}/") == 404


def test_the_role_elsewhere_does_not_help_a_member(client: Client, cast: Cast, door: Door) -> None:
    Membership.objects.create(user=cast.stranger, site=cast.north, role=Role.REQUESTER)
    assert code(client, cast.stranger, f"/door/{door.pk}/") == 403


def test_a_role_that_was_taken_away_finds_nothing(client: Client, cast: Cast, door: Door) -> None:
    Membership.objects.filter(user=cast.locksmith).delete()
    assert code(client, cast.locksmith, f"/door/{door.pk}/") == 404


def test_what_is_not_there_is_not_found(client: Client, cast: Cast) -> None:
    assert code(client, cast.locksmith, f"/door/{cast.north.pk}/") == 404


def test_the_role_anywhere_comes_to_the_view_of_what_others_reach(
    client: Client, cast: Cast, door: Door
) -> None:
    codes = [code(client, who, f"/wide/{door.pk}/") for who in (cast.stranger, cast.officer)]
    assert codes == [200, 403]


def test_what_names_a_person_is_the_views_to_tell(client: Client, cast: Cast, door: Door) -> None:
    assert code(client, cast.requester, f"/own/{door.pk}/") == 200


def test_reading_and_writing_are_two_rights(client: Client, cast: Cast) -> None:
    assert code(client, cast.locksmith, "/list/") == 200
    assert code(client, cast.locksmith, "/list/", "post") == 403
    assert code(client, cast.officer, "/list/", "post") == 200
    assert code(client, cast.officer, "/list/") == 403


@pytest.mark.parametrize("method", ["put", "patch", "delete", "options"])
def test_a_method_that_is_not_declared_is_not_there(method: str, client: Client, cast: Cast) -> None:
    assert code(client, cast.locksmith, "/list/", method) == 405


def test_what_is_everybodys_asks_for_a_sign_in_alone(client: Client, cast: Cast) -> None:
    Membership.objects.filter(user=cast.requester).delete()
    assert code(client, cast.requester, "/signed/") == 200
    client.logout()
    assert code(client, cast.requester, "/signed/", "post") == 405


def test_a_route_without_a_policy_is_served_to_nobody(client: Client, cast: Cast) -> None:
    client.force_login(cast.administrator)
    with pytest.raises(UndeclaredRoute, match="forgotten"):
        client.get("/forgotten/")


def test_the_check_names_what_was_forgotten(known: dict[str, Policy]) -> None:
    known |= {"gone": Policy.for_all("GET"), "signed": Policy.for_all("GET")}
    found = list(unsound_routes())
    assert [sentence.split()[2] for sentence in found] == ["forgotten", "gone", "of"]
    assert "declares no policy" in found[0]
    assert "belongs to no route" in found[1]
    assert "its policy says otherwise" in found[2]


def test_a_number_that_no_row_can_have_is_not_found(client: Client, cast: Cast) -> None:
    for number in (2**63 - 1, 2**63, 10**30):
        assert code(client, cast.officer, reverse("history:event", args=[number])) == 404
