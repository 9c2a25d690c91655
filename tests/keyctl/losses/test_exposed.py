"""What lost keys open comes from the pins, with the route that the plan meant, or none."""

import itertools

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from keyctl.cores.models import Turn
from keyctl.cores.services import pin_core
from keyctl.formats.keyways import add_keyway_fit
from keyctl.losses.figures import Figures
from keyctl.losses.models import CaseDoor
from keyctl.losses.selectors import doors_of, elsewhere
from keyctl.losses.services import look, looking
from keyctl.losses.services.looking import look_now
from keyctl.systems.services import bitting_of
from tests import factories
from tests.jobs import finish
from tests.keyctl.losses.estate import Estate, housing_of, row_of
from tests.keyctl.proofs.estate import put_pins


def test_a_change_key_opens_its_own_door(estate: Estate) -> None:
    own, other = estate.door("AA1"), estate.door("AB1")
    case = estate.lose(estate.held("AA1"))
    row = row_of(case, own)
    assert (row.route, row.operates, row.withdraws, row.door) == ("own", True, False, housing_of(own).door)
    assert other.pk not in doors_of(case).values_list("core", flat=True)


def test_a_master_opens_the_doors_below_it(estate: Estate) -> None:
    below, beside = estate.door("AA1"), estate.door("AB1")
    case = estate.lose(estate.held("AA"))
    assert row_of(case, below).route == "master"
    assert not doors_of(case).filter(core=beside).exists()
    top = estate.lose(estate.held("A"))
    assert {row.core_id for row in doors_of(top)} == {below.pk, beside.pk}


def test_a_cross_keyed_door_is_told_as_one(estate: Estate) -> None:
    both = estate.door("AA1", "AB1")
    case = estate.lose(estate.held("AA1"))
    assert row_of(case, both).route == "cross"


def test_a_control_key_takes_cores_out_and_turns_none(estate: Estate) -> None:
    door = estate.door("AA1")
    case = estate.lose(estate.held("CTR"))
    row = row_of(case, door)
    assert (row.route, row.operates, row.withdraws, row.is_due) == ("control", False, True, True)


def test_what_the_pins_let_in_and_nobody_meant_is_incidental(estate: Estate) -> None:
    odd = estate.door("AB1")
    put_pins(odd, [estate.key("AB1"), estate.key("AA1")])
    Turn.objects.create(core=odd, symbol=estate.key("AA1"), operates=True, withdraws=False)
    case = estate.lose(estate.held("AA1"))
    assert row_of(case, odd).route == "incidental"


def test_what_the_plan_means_and_the_pins_do_not_is_left_out(estate: Estate) -> None:
    core = estate.door("AA1")
    Turn.objects.filter(core=core, symbol=estate.key("AA1")).delete()
    assert not doors_of(estate.lose(estate.held("AA1"))).exists()


def test_cores_in_no_door_are_told_and_those_gone_are_not(estate: Estate) -> None:
    loose, gone = estate.core("AA1"), estate.core("AA1")
    gone.place = "gone"
    gone.save()
    case = estate.lose(estate.held("AA1"))
    row = row_of(case, loose)
    assert (row.door, row.door_class, row.is_due, row.why) == (None, "", False, "no-door")
    assert not doors_of(case).filter(core=gone).exists()
    assert (Figures.of(case).notes[loose.place], Figures.of(case).loose) == (1, 1)


def test_padlocks_and_ways_out_are_counted(estate: Estate) -> None:
    estate.door("AA1", kind="padlock")
    estate.door("AA1", is_egress=True, is_fire_rated=True)
    case = estate.lose(estate.held("AA1"))
    notes = Figures.of(case).notes
    assert (notes["padlocks"], notes["egress"], notes["fire"], notes["doors"]) == (1, 1, 1, 2)


def test_doors_of_every_site_are_found(estate: Estate) -> None:
    estate.system.sites.add(estate.cast.south)
    south = factories.make_floor(estate.cast.south)
    far = estate.door("AA1", floor=south)
    case = estate.lose(estate.held("AA1"))
    assert row_of(case, far).site == estate.cast.south
    assert elsewhere(estate.cast.officer, case) == 1


def test_a_blank_that_enters_another_keyway_opens_its_doors(estate: Estate) -> None:
    """By the blank table, both ways of writing it down: before the core is pinned, and after."""
    other = factories.make_system(estate.cast.north, actor=estate.cast.administrator, keyway="NARROW")
    door = factories.make_core(actor=estate.cast.locksmith, site=estate.cast.north, system=other)
    factories.install(door, factories.make_housing(door=factories.make_door(floor=estate.floor)))
    put_pins(door, [estate.key("AA1")], other.symbols.get(kind="control"))
    add_keyway_fit(actor=estate.cast.locksmith, blank_keyway="WIDE", core_keyway="NARROW", reason="Tried it")
    case = estate.lose(estate.held("AA1"))
    assert row_of(case, door).route == "incidental"


def test_the_union_of_several_lost_keys_is_told(estate: Estate) -> None:
    first, second, both = estate.door("AA1"), estate.door("AA2"), estate.door("AA1", "AA2")
    case = estate.lose(estate.held("AA1"))
    other = estate.lose(estate.held("AA2"))
    other.lost_copies.update(case=case)
    look_now(case)
    assert {row.core_id: row.keys for row in doors_of(case)} == {first.pk: 1, second.pk: 1, both.pk: 2}


def test_rows_stand_in_the_order_of_the_pages(estate: Estate) -> None:
    estate.core("AA1")
    for number in ("S-2", "S-10", "S-1"):
        estate.door("AA1", number=number)
    case = estate.lose(estate.held("AA1"))
    told = [str(row.door.number) if row.door else None for row in doors_of(case)]
    assert told == ["S-1", "S-10", "S-2", None]


def test_exposure_equals_every_lost_key_tried_on_every_core_by_the_pins(estate: Estate) -> None:
    """Brute force: the pins of each core, position by position, against the cuts of the lost keys."""
    names = ["AA1", "AA2", "AB1", "AB2"]
    cores = [estate.door(name) for name in names] + [
        estate.door(*pair) for pair in itertools.combinations(names, 2)
    ]
    case = estate.lose(estate.held("AA"))
    estate.lose(estate.held("AB2")).lost_copies.update(case=case)
    look_now(case)
    lost = [bitting_of(estate.key(name)) for name in ("AA", "AB2")]
    expected = {core.pk for core in cores if any(turns_by_hand(core, cuts) for cuts in lost)}
    assert {row.core_id for row in doors_of(case) if row.operates} == expected
    assert 0 < len(expected) < len(cores)


def turns_by_hand(core: object, cuts: str) -> bool:
    """From the sealed stacks alone: the key's cut must be a break at the shear line in every position."""
    import json

    from keyctl.vault import services as vault

    for stack, cut in zip(json.loads(vault.unseal(core, "pinning")), cuts, strict=True):  # type: ignore[arg-type]
        breaks = list(itertools.accumulate([stack["bottom"], *stack["masters"]]))
        if int(cut) not in breaks:
            return False
    return True


def test_a_look_again_tells_what_was_cleared(estate: Estate) -> None:
    door, stays = estate.door("AA1"), estate.door("AA1")
    case = estate.lose(estate.held("AA1"))
    door.keyings.all().delete()
    door.keyings.create(symbol=estate.key("AB1"))
    door.place, door.housing, housing = "shelf", None, door.housing
    door.save()
    pin_core(actor=estate.cast.locksmith, core=door, version=door.version)
    door.place, door.housing = "housing", housing
    door.save()

    look(actor=estate.cast.officer, case=case)

    assert row_of(case, door).state == CaseDoor.State.CLEARED
    assert row_of(case, stays).state == CaseDoor.State.EXPOSED
    figures = Figures.of(case)
    assert (figures.exposed, figures.cleared) == (1, 1)


def test_a_core_swapped_out_stays_exposed_on_the_shelf_and_its_door_is_cleared(estate: Estate) -> None:
    door = estate.door("AA1")
    housing = housing_of(door)
    case = estate.lose(estate.held("AA1"))
    door.place, door.housing = "shelf", None
    door.save()
    factories.install(estate.core("AB1"), housing)

    look(actor=estate.cast.officer, case=case)

    rows = {row.housing_id: row.state for row in doors_of(case)}
    assert rows == {housing.pk: "cleared", None: "exposed"}


@pytest.mark.parametrize("doors", [3, 12])
def test_a_look_asks_the_database_a_fixed_number_of_times(estate: Estate, doors: int) -> None:
    for _ in range(doors):
        estate.door("AA1")
    case = estate.lose(estate.held("AA1"))
    with CaptureQueriesContext(
        connection,
    ) as asked:
        look_now(case)
    assert len(asked) < 25


def test_figures_count_what_the_rows_say(estate: Estate) -> None:
    estate.door("AA1", door_class="critical")
    estate.door("AA1")
    estate.core("AA1")
    case = estate.lose(estate.held("AA1"))
    figures = Figures.of(case)
    rows = doors_of(case)
    assert figures.count() == rows.count() == 3
    assert figures.due == rows.filter(is_due=True).count()
    assert figures.exposed_doors == rows.filter(door__isnull=False).count()
    assert figures.by("door_class") == {"critical": 1, "ordinary": 1, "": 1}


def test_much_is_looked_at_as_a_job_and_the_old_look_counts_until_it_is_done(
    estate: Estate, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(looking, "MOST_AT_ONCE", 1)
    doors = [estate.door("AA1") for _ in range(3)]
    case = estate.lose(estate.held("AA1"))
    job = looking.running_look(case)
    assert job is not None
    assert (case.look, doors_of(case).count()) == (0, 0)
    assert look(actor=estate.cast.officer, case=case) == job
    assert finish(job).outcome["facts"] == {"Cores": 3, "Due": 3}
    case.refresh_from_db()
    assert {row.core_id for row in doors_of(case)} == {door.pk for door in doors}
    assert CaseDoor.objects.filter(case=case).count() == 3
