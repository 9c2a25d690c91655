"""Removing places: only what nothing stands on goes, and history says that it went."""

import pytest
from django.apps import apps
from django.core.exceptions import PermissionDenied
from django.db import models

from keyctl.audit.models import Event
from keyctl.lib.errors import Refused
from keyctl.lib.standing import relations_to
from keyctl.orders import services as orders
from keyctl.places import services
from keyctl.places.models import Building, BuildingManager, Door, Floor, Housing, Identifier, Space
from keyctl.places.services.removing import GOES_ALONG
from tests import factories
from tests.cast import Cast


@pytest.fixture
def door(cast: Cast) -> Door:
    return factories.make_door(cast.north, number="101")


def test_places_go_from_the_door_up(cast: Cast, door: Door) -> None:
    space = Space.objects.create(floor=door.floor, number="1")
    factories.make_housing(door=door)
    actor = cast.administrator
    services.remove_housing(actor=actor, housing=door.housings.get())
    services.remove_door(actor=actor, door=door)
    services.remove_space(actor=actor, space=space)
    services.remove_floor(actor=actor, floor=door.floor)
    services.remove_building(actor=actor, building=door.building)
    assert [kind.objects.count() for kind in (Building, Floor, Space, Door, Housing)] == [0] * 5
    verbs = Event.objects.filter(verb__endswith=".removed").values_list("verb", flat=True)
    assert set(verbs) == {f"{kind}.removed" for kind in ("building", "floor", "space", "door", "housing")}


def test_what_stands_on_a_place_keeps_it_and_is_counted(cast: Cast, door: Door) -> None:
    space = Space.objects.create(floor=door.floor, number="1")
    door.spaces.add(space)
    factories.make_housing(door=door)
    actor = cast.administrator
    with pytest.raises(Refused, match="because of 1 floor"):
        services.remove_building(actor=actor, building=door.building)
    with pytest.raises(Refused, match="because of 1 space and 1 door"):
        services.remove_floor(actor=actor, floor=door.floor)
    with pytest.raises(Refused, match="because of 1 door"):
        services.remove_space(actor=actor, space=space)
    with pytest.raises(Refused, match="because of 1 housing"):
        services.remove_door(actor=actor, door=door)
    assert Door.objects.filter(pk=door.pk).exists()


def test_an_order_of_long_ago_keeps_its_door(cast: Cast, door: Door) -> None:
    order = orders.open_inspect_order(actor=cast.locksmith, site=cast.north, title="Look", doors=[door])
    orders.cancel_order(actor=cast.locksmith, order=order)
    with pytest.raises(Refused, match="1 order line"):
        services.remove_door(actor=cast.administrator, door=door)


def test_nobody_loses_a_role_by_it(cast: Cast) -> None:
    """Rows that the database would let go with the place keep it as well."""
    building = Building.objects.create(site=cast.north, code="X", name="Shed")
    BuildingManager.objects.create(building=building, user=cast.manager)
    with pytest.raises(Refused, match="1 building manager"):
        services.remove_building(actor=cast.administrator, building=building)


def test_what_other_programs_call_it_goes_along(cast: Cast, door: Door) -> None:
    Identifier.objects.create(site=cast.north, source="GlobalId", kind="door", value="x", door=door)
    services.remove_door(actor=cast.locksmith, door=door)
    assert not Identifier.objects.exists()


@pytest.mark.parametrize("kind", [Building, Floor, Space, Door, Housing])
def test_every_table_that_names_a_place_is_asked(kind: type[models.Model]) -> None:
    """Against the models themselves: no column of any app names a place without keeping it."""
    naming = {
        field.model
        for field in (f for model in _tables() for f in model._meta.get_fields())
        if isinstance(field, models.ForeignKey) and field.related_model is kind
    }
    joins = {model for model in naming if model._meta.auto_created}
    assert naming - joins - set(GOES_ALONG) <= _asked(kind)
    assert _asked(kind)


def _tables() -> list[type[models.Model]]:
    return apps.get_models(include_auto_created=True)


def _asked(kind: type[models.Model]) -> set[type[models.Model]]:
    return {relation.related_model for relation in relations_to(kind, besides=GOES_ALONG)}


def test_only_keepers_remove(cast: Cast, door: Door) -> None:
    for person in (cast.auditor, cast.desk, cast.officer, cast.requester):
        with pytest.raises(PermissionDenied):
            services.remove_door(actor=person, door=door)
    with pytest.raises(PermissionDenied):
        services.remove_floor(actor=cast.locksmith, floor=door.floor)
