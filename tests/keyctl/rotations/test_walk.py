"""A rotation from its start to its proof."""

from collections import Counter

from keyctl.audit.models import Event
from keyctl.cores.models import Core, Turn
from keyctl.orders.models import WorkOrder
from keyctl.rotations import services
from keyctl.rotations.models import Rotation, RotationCore, RotationDoor, Wave
from tests.keyctl.rotations.yard import NEW, Yard, fresh


def test_every_door_gets_its_new_key_and_the_old_ones_turn_nothing(yard: Yard) -> None:
    rotation = yard.all_waves(yard.accepted())
    assert rotation.state == Rotation.State.DONE
    assert rotation.umbrella is not None
    assert rotation.umbrella.state == WorkOrder.State.DONE
    assert not RotationDoor.objects.exclude(state=RotationDoor.State.SWAPPED).exists()
    old = [yard.key(name) for name in (*NEW, "AA")]
    in_doors = Core.objects.filter(housing__in=yard.housings)
    assert in_doors.count() == len(yard.housings)
    assert not Turn.objects.filter(core__in=in_doors, symbol__in=old, operates=True).exists()
    assert Counter(in_doors.values_list("keyed_to__symbol", flat=True)) == {"AB1": 3, "AB2": 2, "AB3": 1}


def test_two_spares_do_six_doors_in_three_waves_of_two(yard: Yard) -> None:
    rotation = yard.accepted()
    sizes = [wave.doors.count() for wave in rotation.waves.all()]
    assert sizes == [2, 2, 2]
    # Three doors a house and two cores: each house is seen twice at least.
    assert (rotation.visits, rotation.fewest_visits) == (4, 4)


def test_a_door_keeps_the_relation_of_its_keys(yard: Yard) -> None:
    crossed = yard.housings[0]
    core = Core.objects.get(housing=crossed)
    core.keyings.create(symbol=yard.key("AA4"))
    keys = {yard.key(old).pk: yard.key(new) for old, new in (NEW | {"AA4": "AB5"}).items()}
    rotation = yard.all_waves(yard.accepted(keys=keys))
    assert rotation.state == Rotation.State.DONE
    put_in = Core.objects.get(housing=crossed)
    assert set(put_in.keyed_to.values_list("symbol", flat=True)) == {"AB1", "AB5"}


def test_cores_that_come_out_are_pinned_for_the_next_wave(yard: Yard) -> None:
    rotation = yard.accepted()
    first = yard.begin(rotation)
    yard.work(first)
    came_out = set(first.doors.values_list("core_out", flat=True))
    second = yard.begin(rotation)
    assert set(second.doors.values_list("meant", flat=True)) == came_out


def test_cores_taken_along_are_brought_back_before_the_next_wave(yard: Yard) -> None:
    rotation = yard.accepted()
    yard.work(yard.begin(rotation), put_at="case")
    coming = RotationCore.objects.filter(state=RotationCore.State.COMING_BACK)
    tags = list(coming.values_list("core__tag", flat=True))
    assert len(tags) == 2
    back = services.bring_back(actor=yard.cast.locksmith, rotation=rotation, tags=[tags[0].lower(), tags[1]])
    places = Core.objects.filter(rotations__in=back).values_list("place", flat=True)
    assert set(places) == {Core.Place.BENCH}
    assert yard.begin(rotation).ordinal == 2


def test_history_tells_each_step_and_no_event_holds_a_bitting(yard: Yard) -> None:
    yard.all_waves(yard.accepted())
    verbs = Counter(Event.objects.filter(verb__startswith="rotation.").values_list("verb", flat=True))
    assert verbs == {
        "rotation.started": 1,
        "rotation.planned": 1,
        "rotation.accepted": 1,
        "rotation.wave_begun": 3,
        "rotation.wave_done": 3,
        "rotation.done": 1,
    }


def test_a_second_rotation_may_follow_once_the_first_has_ended(yard: Yard) -> None:
    yard.all_waves(yard.accepted())
    keys = {yard.key(new).pk: yard.key(old) for old, new in NEW.items()}
    assert yard.start(keys=keys).number == 2


def test_waves_are_done_by_the_orders_alone(yard: Yard) -> None:
    rotation = yard.accepted()
    wave = yard.begin(rotation)
    yard.work(wave)
    wave.refresh_from_db()
    assert wave.state == Wave.State.DONE
    assert wave.swap_order is not None
    assert wave.swap_order.state == WorkOrder.State.DONE
    assert fresh(rotation).umbrella.state == WorkOrder.State.UNDER_WAY  # type: ignore[union-attr]
