"""Doors that are not done in their wave, and doors that something else happens to."""

import pytest

from keyctl.cores.models import Core
from keyctl.lib.errors import Conflict, Refused
from keyctl.orders import services as orders
from keyctl.orders.models import OrderLine
from keyctl.rotations import services
from keyctl.rotations.models import Rotation, RotationCore, RotationDoor, Wave
from keyctl.rotations.selectors import progress_of
from keyctl.rotations.steps import next_step
from tests.jobs import finish
from tests.keyctl.rotations.yard import Yard, fresh

State = RotationDoor.State


def begun(yard: Yard) -> tuple[Rotation, Wave, list[RotationDoor]]:
    rotation = yard.accepted()
    wave = yard.begin(rotation)
    yard.pin(wave)
    return rotation, wave, list(wave.doors.all())


def move_later(yard: Yard, rotation: Rotation) -> None:
    rotation = fresh(rotation)
    finish(services.move_later(actor=yard.cast.locksmith, rotation=rotation, version=rotation.version))


def test_a_door_told_unreached_in_its_order_is_told_so_here(yard: Yard) -> None:
    _, _, (door, other) = begun(yard)
    orders.report_unreached(actor=yard.cast.locksmith, line=yard.line(door), reason="Lecture till six")
    door.refresh_from_db()
    other.refresh_from_db()
    assert (door.state, door.reason, other.state) == (State.UNREACHED, "Lecture till six", State.WAITING)


def test_a_door_not_reached_may_be_told_on_the_page_and_swapped_the_same_day(yard: Yard) -> None:
    rotation, wave, (door, other) = begun(yard)
    services.unreached(actor=yard.cast.locksmith, door=door, reason="Nobody there")
    yard.swap(other)
    assert next_step(fresh(rotation), progress_of(rotation), None).act == "later"
    yard.swap(door)
    wave.refresh_from_db()
    door.refresh_from_db()
    assert (wave.state, door.state, door.reason) == (Wave.State.DONE, State.SWAPPED, "")


def test_what_is_left_of_a_wave_goes_into_later_ones_and_its_cores_are_at_hand(yard: Yard) -> None:
    rotation, wave, (door, other) = begun(yard)
    yard.swap(other)
    line = yard.line(door)
    move_later(yard, rotation)
    wave.refresh_from_db()
    door.refresh_from_db()
    line.refresh_from_db()
    assert wave.state == Wave.State.DONE
    assert line.state == OrderLine.State.CANCELLED
    assert door.wave is not None
    assert door.wave.ordinal > wave.ordinal
    assert progress_of(rotation).cores[RotationCore.State.FREE] == 2
    assert yard.all_waves(fresh(rotation)).state == Rotation.State.DONE


def test_a_core_that_is_pinned_for_a_moved_door_is_not_pinned_twice(yard: Yard) -> None:
    rotation, _, (door, other) = begun(yard)
    meant = door.meant
    yard.swap(other)
    move_later(yard, rotation)
    while (door := RotationDoor.objects.get(pk=door.pk)).state != State.SWAPPED:
        wave = yard.begin(fresh(rotation))
        pinned = set(wave.pin_order.lines.values_list("core", flat=True)) if wave.pin_order else set()
        if door.wave_id == wave.pk and meant is not None and wave.ordinal == 2:
            chosen = set(wave.doors.values_list("meant", flat=True))
            assert meant.pk in chosen
            assert meant.pk not in pinned
        yard.work(wave)


def test_a_door_left_out_keeps_its_old_keys_and_the_rest_is_proven(yard: Yard) -> None:
    rotation, _, (door, _) = begun(yard)
    before = Core.objects.get(housing=door.housing)
    services.leave_out(actor=yard.cast.locksmith, door=door, reason="Being torn down")
    rotation = yard.plan(fresh(rotation))
    yard.work(Wave.objects.get(state=Wave.State.BEGUN))
    rotation = yard.all_waves(fresh(rotation))
    assert rotation.state == Rotation.State.DONE
    assert "Left out: 1 door" in rotation.outcome
    assert Core.objects.get(housing=door.housing) == before


def test_a_core_with_other_keys_in_the_door_is_a_fact_and_the_door_is_to_do_again(yard: Yard) -> None:
    rotation, wave, (door, other) = begun(yard)
    stranger = yard.core("AB6")
    out = Core.objects.get(housing=door.housing)
    yard.swap(door, core=stranger)
    door.refresh_from_db()
    assert (door.state, door.wave, door.meant) == (State.WAITING, None, None)
    assert RotationCore.objects.get(core=out).state == RotationCore.State.FREE
    yard.swap(other)
    wave.refresh_from_db()
    assert wave.state == Wave.State.DONE
    rotation = yard.plan(fresh(rotation))
    assert yard.all_waves(rotation).state == Rotation.State.DONE


def test_any_core_with_the_new_keys_does(yard: Yard) -> None:
    _, _, (door, _) = begun(yard)
    meant = door.meant
    named = [pair.new.symbol for pair in door.keys.select_related("new")]
    yard.swap(door, core=yard.core(*named))
    door.refresh_from_db()
    assert door.state == State.SWAPPED
    assert meant is not None
    assert RotationCore.objects.get(core=meant).state == RotationCore.State.FREE


def test_no_second_wave_begins_before_the_first_is_done(yard: Yard) -> None:
    rotation, _, _ = begun(yard)
    with pytest.raises(Conflict, match="Wave 1 still has 2 doors to do"):
        yard.begin(rotation)


def test_a_paused_rotation_begins_no_wave_but_hears_of_swaps(yard: Yard) -> None:
    rotation, wave, doors = begun(yard)
    rotation = fresh(rotation)
    services.pause(actor=yard.cast.locksmith, rotation=rotation, version=rotation.version)
    for door in doors:
        yard.swap(door)
    wave.refresh_from_db()
    assert wave.state == Wave.State.DONE
    with pytest.raises(Conflict, match="is paused"):
        yard.begin(rotation)
    rotation = fresh(rotation)
    services.resume(actor=yard.cast.locksmith, rotation=rotation, version=rotation.version)
    assert yard.begin(rotation).ordinal == 2


def test_a_cancelled_rotation_leaves_doors_as_they_are_and_frees_them(yard: Yard) -> None:
    rotation, _, (door, _) = begun(yard)
    yard.swap(door)
    rotation = fresh(rotation)
    services.cancel(
        actor=yard.cast.locksmith, rotation=rotation, version=rotation.version, reason="Money is out"
    )
    counted = progress_of(fresh(rotation)).doors
    assert (counted[State.SWAPPED], counted[State.LEFT_OUT]) == (1, 5)
    assert not OrderLine.objects.filter(state=OrderLine.State.OPEN).exists()
    assert not RotationDoor.objects.filter(is_running=True).exists()
    assert not RotationCore.objects.filter(is_running=True).exists()


def test_an_old_key_that_still_turns_a_core_keeps_the_rotation_open(yard: Yard) -> None:
    rotation = yard.accepted()
    for _ in range(2):
        yard.work(yard.begin(fresh(rotation)))
    last = yard.begin(fresh(rotation))
    yard.pin(last)
    first, second = last.doors.all()
    yard.swap(first)
    # As a core that was pinned wrongly would be read: the old key turns it.
    done = Core.objects.get(housing=first.housing)
    turn = done.turns.create(symbol=yard.key("AA1"), operates=True, withdraws=False)
    yard.swap(second)
    rotation = fresh(rotation)
    assert rotation.state == Rotation.State.WORKING
    assert next_step(rotation, progress_of(rotation), None).act == "finish"
    proof = services.finish(actor=yard.cast.locksmith, rotation=rotation, version=rotation.version)
    assert [each.core for each in proof.still_turned] == [done]
    turn.delete()
    rotation = fresh(rotation)
    services.finish(actor=yard.cast.locksmith, rotation=rotation, version=rotation.version)
    assert fresh(rotation).state == Rotation.State.DONE


def test_leaving_out_wants_a_reason(yard: Yard) -> None:
    _, _, (door, _) = begun(yard)
    with pytest.raises(Refused, match="Say why it keeps its old keys"):
        services.leave_out(actor=yard.cast.locksmith, door=door, reason=" ")
