"""Writing places down: each refuses its double, each stands in history, each wants its role."""

import pytest
from django.core.exceptions import PermissionDenied
from django.db import IntegrityError, transaction
from django.http import Http404

from keyctl.audit.selectors import history_of
from keyctl.lib.errors import Refused
from keyctl.places import services
from keyctl.places.models import Door, Housing, Membership
from keyctl.places.roles import Role
from tests import factories
from tests.cast import Cast


def test_who_adds_a_site_administers_it(cast: Cast) -> None:
    site = services.add_site(actor=cast.stranger, code="EAST", name="East site")
    assert Membership.objects.filter(user=cast.stranger, site=site, role=Role.ADMINISTRATOR).exists()


def test_it_refuses_a_second_site_of_that_code(cast: Cast) -> None:
    with pytest.raises(Refused, match="another code"):
        services.add_site(actor=cast.administrator, code="NORTH", name="North again")


def test_a_door_stands_in_history_from_the_start(cast: Cast) -> None:
    door = services.add_door(actor=cast.administrator, floor=factories.make_floor(cast.north), number="101")
    assert history_of(door)[0].sentence == f"added door {door}"


def test_it_refuses_a_second_door_of_that_number(cast: Cast) -> None:
    floor = factories.make_floor(cast.north)
    services.add_door(actor=cast.administrator, floor=floor, number="101")
    with pytest.raises(Refused, match="another number"):
        services.add_door(actor=cast.administrator, floor=floor, number="101")


def test_a_requester_may_not_add_a_door(cast: Cast) -> None:
    with pytest.raises(PermissionDenied):
        services.add_door(actor=cast.requester, floor=factories.make_floor(cast.north), number="101")


def test_a_stranger_does_not_find_the_floor(cast: Cast) -> None:
    with pytest.raises(Http404):
        services.add_door(actor=cast.stranger, floor=factories.make_floor(cast.north), number="101")


def test_two_housings_of_a_door_are_told_apart(cast: Cast) -> None:
    door = factories.make_door(cast.north)
    facts = {"kind": Housing.Kind.PADLOCK, "construction": "small-format"}
    services.add_housing(actor=cast.locksmith, door=door, **facts)
    with pytest.raises(Refused, match="label"):
        services.add_housing(actor=cast.locksmith, door=door, **facts)


def test_the_database_refuses_an_unknown_door_class(cast: Cast) -> None:
    with pytest.raises(IntegrityError, match="door_class_is_known"), transaction.atomic():
        Door.objects.create(floor=factories.make_floor(cast.north), number="1", door_class="odd")


def test_granting_a_role_twice_changes_nothing(cast: Cast) -> None:
    facts = {"actor": cast.administrator, "user": cast.requester, "site": cast.north, "role": Role.AUDITOR}
    assert services.grant_role(**facts) == services.grant_role(**facts)  # type: ignore[arg-type]
