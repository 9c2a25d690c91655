"""Starting a rotation: who may, what is refused, and which doors belong together."""

import random
from datetime import timedelta
from itertools import combinations
from typing import Any
from uuid import UUID, uuid4

import pytest
from django.core.exceptions import PermissionDenied
from django.http import Http404
from django.utils import timezone

from keyctl.cores.models import Core
from keyctl.lib.errors import Conflict, Refused
from keyctl.orders import services as orders
from keyctl.rotations import services
from keyctl.rotations.areas import Chosen, area_of, housings_of, proposed_keys, spares_at
from keyctl.rotations.models import Rotation, RotationDoor
from keyctl.rotations.services import starting
from keyctl.rotations.services.starting import shared_by
from keyctl.systems.models import KeySymbol, KeySystem
from tests import factories
from tests.keyctl.rotations.yard import NEW, Yard


def keys_of(yard: Yard, **changed: str) -> dict[UUID, KeySymbol]:
    return {yard.key(old).pk: yard.key(new) for old, new in (NEW | changed).items()}


def test_only_a_locksmith_of_the_site_starts_one(yard: Yard) -> None:
    for name in ("manager", "officer", "auditor", "administrator", "desk"):
        with pytest.raises(PermissionDenied):
            yard.start(actor=yard.cast.everybody[name])
    # A stranger finds no such site.
    with pytest.raises(Http404):
        yard.start(actor=yard.cast.stranger)


def refusal(yard: Yard, **facts: Any) -> str:
    with pytest.raises(Refused) as told:
        yard.start(**facts)
    return " ".join(told.value.sentences)


def test_every_old_key_wants_a_new_one(yard: Yard) -> None:
    keys = keys_of(yard)
    del keys[yard.key("AA2").pk]
    assert "AA2 has none" in refusal(yard, keys=keys)


def test_a_key_does_not_take_its_own_place(yard: Yard) -> None:
    assert "would stay as it is" in refusal(yard, keys=keys_of(yard, AA1="AA1"))


def test_a_control_key_is_no_new_key(yard: Yard) -> None:
    control = yard.system.symbols.get(kind=KeySymbol.Kind.CONTROL)
    assert "is a control key" in refusal(yard, keys=keys_of(yard) | {yard.key("AA1").pk: control})


def test_a_retired_key_is_no_new_key(yard: Yard) -> None:
    KeySymbol.objects.filter(pk=yard.key("AB1").pk).update(retired_at="2026-01-01T00:00Z")
    assert "is retired" in refusal(yard, keys=keys_of(yard))


def test_keys_of_another_format_do_not_fit(yard: Yard) -> None:
    other = factories.make_system(
        yard.cast.north,
        actor=yard.cast.administrator,
        format_id="small-a2-6",
        levels=(((1, 2), 2), ((3,), 2)),
    )
    keys = keys_of(yard) | {yard.key("AA1").pk: factories.change_key(other)}
    assert "is of another format" in refusal(yard, keys=keys)


def test_no_more_cores_are_given_than_are_free(yard: Yard) -> None:
    assert "has 2" in refusal(yard, spares={yard.system.format_id: 3})


def test_one_core_at_least_goes_round(yard: Yard) -> None:
    assert "at least" in refusal(yard, spares={})


def test_a_door_is_in_one_running_rotation(yard: Yard) -> None:
    yard.start(spares={yard.system.format_id: 1})
    assert "in a rotation that has not ended" in refusal(yard, spares={yard.system.format_id: 1})


def test_a_core_goes_round_in_one_rotation(yard: Yard) -> None:
    yard.start()
    assert spares_at(yard.cast.north, [yard.system.format_id]) == {yard.system.format_id: []}


def test_doors_that_share_a_key_belong_together(yard: Yard) -> None:
    yard.start()
    named = {door.housing_id: door.together for door in RotationDoor.objects.all()}
    code = yard.system.code
    expected = [f"{code} AA1", f"{code} AA1", f"{code} AA2", f"{code} AA1", f"{code} AA2", ""]
    assert [named[housing.pk] for housing in yard.housings] == expected


def test_doors_hang_together_through_cross_keyed_cores_as_a_graph_says() -> None:
    """Against components found by joining sets until none changes."""
    rng, system = random.Random(4), KeySystem(code="X")
    for _ in range(40):
        symbols = [KeySymbol(system=system, symbol=f"AA{nth}") for nth in range(6)]
        keyed = {uuid4(): tuple(rng.sample(symbols, rng.choice((1, 1, 2)))) for _ in range(rng.randint(1, 8))}
        found = shared_by(keyed)
        groups = [{door} for door in keyed]
        while pair := next((p for p in combinations(groups, 2) if _share(keyed, *p)), None):
            groups = [group for group in groups if group not in pair] + [pair[0] | pair[1]]
        for group in groups:
            names = {found[door] for door in group}
            assert len(names) == 1
            assert (names == {""}) == (len(group) == 1)
        shared = [found[next(iter(group))] for group in groups if len(group) > 1]
        assert len(set(shared)) == len(shared)


def _share(keyed: dict[UUID, tuple[KeySymbol, ...]], one: set[UUID], other: set[UUID]) -> bool:
    first, second = ({key.pk for door in doors for key in keyed[door]} for doors in (one, other))
    return bool(first & second)


def test_an_area_is_buildings_floors_and_doors(yard: Yard) -> None:
    north, first, last = yard.cast.north, yard.housings[0], yard.housings[-1]
    floor = housings_of(north, Chosen(floors=(yard.floors[0].pk,)))
    assert {each.pk for each in floor} == {each.pk for each in yard.housings[:3]}
    both = Chosen(buildings=(first.door.building.pk,), doors=(last.door.pk,))
    assert housings_of(north, both).count() == 4
    assert not housings_of(yard.cast.south, both).exists()
    assert not housings_of(north, Chosen()).exists()


def test_doors_without_a_keyed_core_are_left_out_and_told(yard: Yard) -> None:
    empty = factories.make_housing(door=factories.make_door(floor=yard.floors[0]))
    area = area_of(housings_of(yard.cast.north, Chosen(floors=(yard.floors[0].pk,))))
    assert area.without_core == (empty,)
    assert len(area.housings) == 3


def test_the_next_free_keys_below_the_same_master_are_proposed(yard: Yard) -> None:
    area = area_of(yard.housings)
    found = proposed_keys(area.old_keys, yard.system)
    # AA6 is set for the spares; AA4 and AA5 are free below AA.
    assert [found[key.pk].symbol for key in area.old_keys if key.pk in found] == ["AA4", "AA5"]


def test_the_same_symbols_of_another_system_are_proposed(yard: Yard) -> None:
    other = factories.make_system(
        yard.cast.north, actor=yard.cast.administrator, levels=(((1, 2), 1), ((3,), 4))
    )
    found = proposed_keys(area_of(yard.housings).old_keys, other)
    assert {(key.system, key.symbol) for key in found.values()} == {(other, f"AA{nth}") for nth in (1, 2, 3)}


def test_spares_without_pins_are_given_first(yard: Yard) -> None:
    pinned = yard.core("AA5")
    listed = spares_at(yard.cast.north, [yard.system.format_id])[yard.system.format_id]
    assert listed[-1] == pinned
    assert Core.objects.filter(pinning=None).count() == len(listed) - 1


def test_a_core_that_goes_back_into_a_door_kept_shut_is_no_spare(yard: Yard) -> None:
    smith, site, (door, *_) = yard.cast.locksmith, yard.cast.north, yard.housings
    order = orders.open_lock_out(
        actor=smith,
        site=site,
        title="Burst pipe",
        housings=[door],
        asked_by="Facilities",
        until=timezone.localdate() + timedelta(days=2),
    )
    own, other = door.cores.get(), yard.core("AA5")
    orders.complete_swap(
        actor=smith,
        line=order.lines.get(),
        core_in=other,
        core_in_version=other.version,
        core_out_id=own.pk,
        put_at="shelf",
        operating_key_turned=True,
        control_key_came_out=True,
        egress_and_latch_tried=True,
    )
    listed = spares_at(site, [yard.system.format_id])[yard.system.format_id]
    assert set(listed) == set(yard.spares)


def test_a_spare_core_that_another_rotation_took_meanwhile(
    yard: Yard, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Two people start at the same moment, each with the cores that were free a moment ago."""
    free = spares_at(yard.cast.north, [yard.system.format_id])
    first, others = yard.housings[:3], yard.housings[3:]
    yard.start(housings=first)
    monkeypatch.setattr(starting, "spares_at", lambda *_: free)
    with pytest.raises(Conflict, match="meanwhile"):
        yard.start(housings=others)
    assert Rotation.objects.count() == 1


def test_a_stale_page_changes_nothing(yard: Yard) -> None:
    rotation = yard.accepted()
    with pytest.raises(Refused, match="has changed since you looked"):
        services.pause(actor=yard.cast.locksmith, rotation=rotation, version=rotation.version - 1)
