"""Cores on their way: brought back, broken, in use again."""

import pytest

from keyctl.lib.errors import Refused
from keyctl.orders.models import OrderLine
from keyctl.rotations import services
from keyctl.rotations.models import RotationCore, RotationDoor, Wave
from keyctl.rotations.selectors import progress_of
from tests.keyctl.rotations.yard import Yard, fresh

State = RotationCore.State


def test_the_next_wave_waits_for_the_cores_that_came_out(yard: Yard) -> None:
    rotation = yard.accepted()
    yard.work(yard.begin(rotation), put_at="case")
    with pytest.raises(Refused, match="2 are still to come"):
        yard.begin(rotation)


def test_a_tag_of_no_core_of_the_rotation_is_told_and_none_is_brought_back(yard: Yard) -> None:
    rotation = yard.accepted()
    yard.work(yard.begin(rotation), put_at="shelf")
    tag = RotationCore.objects.filter(state=State.COMING_BACK)[0].core.tag
    with pytest.raises(Refused) as told:
        services.bring_back(actor=yard.cast.locksmith, rotation=rotation, tags=[tag, "BCDF2345GHJK"])
    assert "Core BCDF-2345-GHJK does not go round" in told.value.sentences[1]
    assert RotationCore.objects.filter(state=State.COMING_BACK).count() == 2


def test_a_core_in_its_door_is_not_brought_back(yard: Yard) -> None:
    rotation = yard.accepted()
    yard.work(yard.begin(rotation))
    tag = RotationCore.objects.filter(state=State.IN_DOOR)[0].core.tag
    with pytest.raises(Refused) as told:
        services.bring_back(actor=yard.cast.locksmith, rotation=rotation, tags=[tag])
    assert "is in its door by the records" in told.value.sentences[1]


def test_a_broken_core_takes_its_door_out_of_the_wave_and_the_rest_is_planned_anew(yard: Yard) -> None:
    rotation = yard.accepted()
    wave = yard.begin(rotation)
    door = wave.doors.all()[0]
    broken = RotationCore.objects.get(core=door.meant)
    services.give_up_core(actor=yard.cast.locksmith, core=broken, reason="Tailpiece bent")
    door.refresh_from_db()
    assert (door.wave, door.meant, door.state) == (None, None, RotationDoor.State.WAITING)
    assert not OrderLine.objects.filter(housing=door.housing, state=OrderLine.State.OPEN).exists()
    yard.work(wave)
    progress = progress_of(fresh(rotation))
    assert progress.needs_plan
    assert progress.short_of == {yard.system.format_id: 1}
    rotation = yard.plan(fresh(rotation))
    # One core goes round now: five doors, one a wave.
    assert rotation.waves.filter(state=Wave.State.PLANNED).count() == 5
    assert yard.all_waves(rotation).state == rotation.State.DONE


def test_a_core_found_again_goes_round_again(yard: Yard) -> None:
    rotation = yard.accepted()
    core = RotationCore.objects.all()[0]
    services.give_up_core(actor=yard.cast.locksmith, core=core, reason="Not in its box")
    services.use_core_again(actor=yard.cast.locksmith, core=core)
    core.refresh_from_db()
    assert (core.state, core.note) == (State.FREE, "")
    assert not progress_of(fresh(rotation)).needs_plan


def test_more_cores_are_given_and_make_fewer_waves(yard: Yard) -> None:
    rotation = yard.accepted()
    for _ in range(4):
        yard.core("AA6", pinned=False)
    spares = {yard.system.format_id: 4}
    services.add_spares(actor=yard.cast.locksmith, rotation=rotation, version=rotation.version, spares=spares)
    rotation = yard.plan(fresh(rotation))
    assert rotation.waves.count() == 1


def test_where_every_core_is_given_up_the_page_says_what_to_do(yard: Yard) -> None:
    rotation = yard.accepted()
    for core in RotationCore.objects.all():
        services.give_up_core(actor=yard.cast.locksmith, core=core, reason="Lost in the van")
    rotation = yard.plan(fresh(rotation))
    assert not rotation.waves.exists()
    assert "There is no spare core" in rotation.plan_words
