"""What the preview shows is what happens; what was done is undone to the last column.

The model is written here, apart from the product: a door gets the new value if nobody touched it since the
trial, and stays as whoever touched it left it otherwise.
"""

from datetime import date, timedelta
from random import Random
from typing import Any

import pytest
from django.core.exceptions import PermissionDenied
from django.utils import timezone

from keyctl.accounts.models import User
from keyctl.audit.models import Event
from keyctl.audit.services import record
from keyctl.cores.models import Core
from keyctl.cores.services import move_core
from keyctl.keys.models import Custody, KeyCopy
from keyctl.lib.errors import Conflict, Refused
from keyctl.lib.moments import end_of_day
from keyctl.listing import services
from keyctl.listing.models import UNDO_FOR, BulkAct, BulkRow
from keyctl.orders.models import WorkOrder
from keyctl.places.models import Door
from keyctl.places.roles import Role
from keyctl.places.services import change_door, remove_door
from tests import factories
from tests.cast import Cast
from tests.keyctl.keys.keyroom import KeyRoom
from tests.keyctl.listing.acting import begun, done, row, states, tried, whole
from tests.keyctl.orders.workshop import Workshop

SETS = ["", "HW-1", "HW-2", "HW-3"]


def some_doors(cast: Cast, rng: Random, number: int = 8) -> list[Door]:
    floors = [factories.make_floor(cast.north) for _ in range(2)]
    return [
        factories.make_door(
            floor=rng.choice(floors),
            hardware_set=rng.choice(SETS),
            is_egress=rng.random() < 0.3,
            note=rng.choice(["", "By the lift"]),
        )
        for _ in range(number)
    ]


def touch(actor: User, door: Door, rng: Random, wanted: str) -> dict[str, Any] | None:
    """Somebody else changes or removes a door: what they left of it, or None where it is gone."""
    how = rng.choice(["other field", "same field", "same value", "removed"])
    if how == "removed":
        remove_door(actor=actor, door=door)
        return None
    name = {"other field": "asset_tag", "same field": "hardware_set", "same value": "hardware_set"}[how]
    value = wanted if how == "same value" else "TOUCHED"
    facts: Any = {name: value}
    return {name: getattr(change_door(actor=actor, door=door, **facts), name)}


@pytest.mark.parametrize("seed", range(6))
def test_what_is_shown_is_what_happens_and_nobodys_change_is_lost(cast: Cast, seed: int) -> None:
    rng = Random(seed)
    doors, wanted = some_doors(cast, rng), rng.choice(SETS)
    expected = whole(Door)
    bulk = tried(cast.locksmith, "doors", "hardware", doors, hardware_set=wanted)
    assert whole(Door) == expected  # a trial writes nothing
    assert not Event.objects.filter(verb="door.changed").exists()
    shown = {each.row_id: each.after for each in bulk.rows.filter(state=BulkRow.State.WOULD)}
    assert shown.keys() == {door.pk for door in doors if door.hardware_set != wanted}
    touched = rng.sample(doors, rng.randrange(4))
    for door in touched:
        pk = door.pk
        left = touch(cast.administrator, door, rng, wanted)
        if left is None:
            del expected[pk]
        else:
            expected[pk] |= left
            if all(door.__dict__[name] == value for name, value in left.items()):
                touched = [each for each in touched if each.pk != pk]  # nothing was changed after all
    untouched = shown.keys() - {door.pk for door in touched} - (shown.keys() - expected.keys())
    if not shown:
        with pytest.raises(Refused):
            services.do_act(actor=cast.locksmith, bulk=bulk)
        return
    events = Event.objects.filter(verb="door.changed", actor=cast.locksmith)
    services.do_act(actor=cast.locksmith, bulk=bulk)
    for pk in untouched:
        expected[pk] |= {"hardware_set": shown[pk]["hardware_set"]}
    assert whole(Door) == expected
    assert events.count() == len(untouched)
    assert {pk for pk, state in states(bulk).items() if state == "done"} == untouched


@pytest.mark.parametrize("seed", range(4))
def test_an_undo_puts_every_column_back_where_nobody_was(cast: Cast, seed: int) -> None:
    rng = Random(seed)
    doors = some_doors(cast, rng)
    before = whole(Door)
    bulk = done(cast.locksmith, "doors", "class", doors, door_class="critical")
    touched = rng.sample(doors, 2)
    for door in touched:
        change_door(actor=cast.administrator, door=door, asset_tag="A-1")
        # Even back again: somebody was there.
        change_door(actor=cast.administrator, door=door, asset_tag="")
    services.undo_act(actor=cast.locksmith, bulk=bulk)
    kept = {door.pk for door in touched}
    assert {pk: row for pk, row in whole(Door).items() if pk not in kept} == {
        pk: row for pk, row in before.items() if pk not in kept
    }
    assert set(Door.objects.filter(pk__in=kept).values_list("door_class", flat=True)) == {"critical"}
    assert "Administrator changed door" in row(bulk, touched[0]).reason


def test_an_undo_is_events_and_takes_nothing_out_of_history(cast: Cast) -> None:
    doors = some_doors(cast, Random(1), 3)
    bulk = done(cast.locksmith, "doors", "class", doors, door_class="critical")
    before = list(Event.objects.order_by("pk").values_list("pk", "sentence"))
    services.undo_act(actor=cast.locksmith, bulk=bulk)
    after = list(Event.objects.order_by("pk").values_list("pk", "sentence"))
    assert after[: len(before)] == before
    assert Event.objects.filter(verb="door.changed").count() == 6
    assert Event.objects.filter(verb__in=["bulk.done", "bulk.undone"]).count() == 2


def test_cores_are_put_elsewhere_and_back(shop: Workshop) -> None:
    cores = [shop.core(pinned=False) for _ in range(3)]
    _housing, fitted = shop.furnished()
    before = whole(Core, besides=("version",))
    bulk = done(shop.smith, "cores", "place", [*cores, fitted], place="case")
    assert states(bulk)[fitted.pk] == "refused"
    assert "swap order" in row(bulk, fitted).reason
    assert set(Core.objects.filter(carrier=shop.smith).values_list("pk", flat=True)) == {c.pk for c in cores}
    services.undo_act(actor=shop.smith, bulk=bulk)
    assert whole(Core, besides=("version",)) == before


def test_a_core_that_was_in_anothers_case_is_not_put_back_there_by_me(shop: Workshop) -> None:
    other = factories.make_user("second", site=shop.site, role=Role.LOCKSMITH)
    core = shop.core(pinned=False)
    move_core(actor=other, core=core, version=core.version, place="case")
    bulk = done(shop.smith, "cores", "place", [core], place="bench")
    services.undo_act(actor=shop.smith, bulk=bulk)
    assert "Second" in row(bulk, core).reason
    assert Core.objects.get(pk=core.pk).place == "bench"


def test_key_copies_change_cabinets_and_go_back(room: KeyRoom) -> None:
    copies, other = [room.in_stock() for _ in range(3)], factories.make_cabinet(room.site)
    out = room.held()
    before = whole(KeyCopy, besides=("version",))
    bulk = done(room.desk, "copies", "cabinet", [*copies, out], cabinet=other.pk)
    assert set(KeyCopy.objects.filter(cabinet=other).values_list("pk", flat=True)) == {c.pk for c in copies}
    assert states(bulk)[out.pk] == "refused"
    services.undo_act(actor=room.desk, bulk=bulk)
    assert whole(KeyCopy, besides=("version",)) == before


def test_a_new_day_to_bring_keys_back_is_set_and_undone_even_of_overdue_ones(room: KeyRoom) -> None:
    room.held()
    late = room.held()
    Custody.objects.filter(copy=late).update(due_at=end_of_day(timezone.localdate() - timedelta(days=3)))
    before, day = whole(Custody), timezone.localdate() + timedelta(days=30)
    bulk = done(room.desk, "out", "due", list(Custody.objects.all()), due_on=day)
    assert set(Custody.objects.values_list("due_at", flat=True)) == {end_of_day(day)}
    services.undo_act(actor=room.desk, bulk=bulk)
    assert whole(Custody) == before


def test_a_key_that_came_back_since_is_left(room: KeyRoom) -> None:
    copy = room.held()
    line = Custody.objects.get(copy=copy)
    bulk = tried(room.desk, "out", "due", [line], due_on=timezone.localdate() + timedelta(days=9))
    room.take_back(KeyCopy.objects.get(pk=copy.pk))
    services.do_act(actor=room.desk, bulk=bulk)
    assert states(bulk) == {line.pk: "left"}


def test_orders_are_given_to_somebody_and_back(shop: Workshop) -> None:
    orders = [shop.pin_order() for _ in range(2)]
    closed = shop.pin_order()
    WorkOrder.objects.filter(pk=closed.pk).update(state="cancelled", closed_at=timezone.now())
    before = whole(WorkOrder)
    bulk = done(shop.smith, "orders", "assign", [*orders, closed], to=shop.smith.pk)
    assert WorkOrder.objects.filter(assigned_to=shop.smith).count() == 2
    assert states(bulk)[closed.pk] == "refused"
    services.undo_act(actor=shop.smith, bulk=bulk)
    assert whole(WorkOrder) == before


def test_orders_get_a_day_and_lose_it_again(shop: Workshop) -> None:
    orders = [shop.pin_order() for _ in range(2)]
    before = whole(WorkOrder)
    bulk = done(shop.smith, "orders", "due", orders, due_on="2030-05-06")
    assert set(WorkOrder.objects.values_list("due_on", flat=True)) == {date(2030, 5, 6)}
    services.undo_act(actor=shop.smith, bulk=bulk)
    assert whole(WorkOrder) == before


def test_no_act_takes_a_caution_off_a_door(cast: Cast) -> None:
    door = factories.make_door(cast.north, is_egress=True, is_fire_rated=True, fire_rating="60 min")
    for act, facts in (
        ("rating", {"fire_rating": ""}),
        ("caution", {"caution": ""}),
        ("caution", {"caution": "is_egress", "is_egress": "False", "is_fire_rated": ""}),
    ):
        try:
            bulk = tried(cast.locksmith, "doors", act, [door], **facts)
        except Refused:
            continue
        assert states(bulk) == {door.pk: "same"}
    door.refresh_from_db()
    assert (door.is_egress, door.is_fire_rated, door.fire_rating) == (True, True, "60 min")


def test_undoing_an_added_caution_is_a_persons_act_with_its_line_of_history(cast: Cast) -> None:
    door = factories.make_door(cast.north)
    bulk = done(cast.locksmith, "doors", "caution", [door], caution="is_fire_rated")
    assert Door.objects.get(pk=door.pk).is_fire_rated
    services.undo_act(actor=cast.locksmith, bulk=bulk)
    assert not Door.objects.get(pk=door.pk).is_fire_rated
    told = Event.objects.filter(verb="door.changed").order_by("-pk").values_list("sentence", flat=True)[0]
    assert "fire-rated (now no)" in told


def test_all_that_match_are_more_than_the_page(cast: Cast) -> None:
    floor = factories.make_floor(cast.north)
    for nth in range(30):
        factories.make_door(floor=floor, number=f"X{nth}", name="Lab" if nth % 2 else "Store")
    assert begun(cast.locksmith, "doors", "hardware", None, q="lab").rows.count() == 15


def test_foreign_rows_are_not_there(cast: Cast) -> None:
    ours, theirs = factories.make_door(cast.north), factories.make_door(cast.south)
    assert list(states(begun(cast.locksmith, "doors", "hardware", [ours, theirs]))) == [ours.pk]
    with pytest.raises(Refused, match="Nothing was chosen"):
        begun(cast.locksmith, "doors", "hardware", [theirs])


@pytest.mark.parametrize("name", ["desk", "manager", "officer", "auditor", "requester"])
def test_an_act_is_for_the_roles_of_its_service(cast: Cast, name: str) -> None:
    door = factories.make_door(cast.north)
    with pytest.raises(PermissionDenied):
        begun(cast.everybody[name], "doors", "hardware", [door])


def test_a_role_at_another_site_does_not_help(cast: Cast) -> None:
    """A locksmith of the south who only reads the north."""
    factories.make_user("both", site=cast.south, role=Role.LOCKSMITH)
    both = User.objects.get(username="both")
    both.memberships.create(site=cast.north, role=Role.AUDITOR)
    north, south = factories.make_door(cast.north), factories.make_door(cast.south)
    bulk = tried(both, "doors", "hardware", [north, south], hardware_set="HW-9")
    assert states(bulk) == {north.pk: "refused", south.pk: "would"}
    services.do_act(actor=both, bulk=bulk)
    assert Door.objects.get(pk=north.pk).hardware_set == ""


def test_a_role_that_ended_meanwhile_changes_nothing(cast: Cast) -> None:
    door = factories.make_door(cast.north)
    bulk = tried(cast.locksmith, "doors", "hardware", [door], hardware_set="HW-9")
    cast.locksmith.memberships.all().delete()
    services.do_act(actor=cast.locksmith, bulk=bulk)
    assert Door.objects.get(pk=door.pk).hardware_set == ""
    assert row(bulk, door).reason


def test_who_was_shut_out_meanwhile_changes_nothing(cast: Cast) -> None:
    """Their memberships stand; a long act in the queue stops at the next batch."""
    door = factories.make_door(cast.north)
    bulk = tried(cast.locksmith, "doors", "hardware", [door], hardware_set="HW-9")
    User.objects.filter(pk=cast.locksmith.pk).update(is_active=False)
    with pytest.raises(PermissionDenied):
        services.do_act(actor=cast.locksmith, bulk=bulk)
    assert Door.objects.get(pk=door.pk).hardware_set == ""


def test_why_a_row_was_left_tells_nothing_of_other_sites(cast: Cast) -> None:
    door = factories.make_door(cast.north)
    bulk = tried(cast.locksmith, "doors", "hardware", [door], hardware_set="HW-9")
    change_door(actor=cast.locksmith, door=door, asset_tag="A-1")
    facts: Any = {"verb": "door.seen", "sentence": "saw it from afar", "site_id": cast.south.pk}
    record(actor=cast.stranger, subjects=[door], **facts)
    services.do_act(actor=cast.locksmith, bulk=bulk)
    assert "afar" not in row(bulk, door).reason
    assert "asset tag" in row(bulk, door).reason


def test_it_is_done_once_and_undone_once(cast: Cast) -> None:
    door = factories.make_door(cast.north)
    bulk = done(cast.locksmith, "doors", "hardware", [door], hardware_set="HW-9")
    with pytest.raises(Conflict):
        services.do_act(actor=cast.locksmith, bulk=bulk)
    services.undo_act(actor=cast.locksmith, bulk=bulk)
    with pytest.raises(Conflict):
        services.undo_act(actor=cast.locksmith, bulk=bulk)


def test_an_undo_has_its_time(cast: Cast) -> None:
    door = factories.make_door(cast.north)
    bulk = done(cast.locksmith, "doors", "hardware", [door], hardware_set="HW-9")
    with pytest.raises(Refused, match="more than 7 days ago"):
        services.undo_act(actor=cast.locksmith, bulk=bulk, now=timezone.now() + UNDO_FOR + timedelta(1))


def test_what_was_only_tried_goes_by_itself(cast: Cast) -> None:
    door = factories.make_door(cast.north)
    tried(cast.locksmith, "doors", "hardware", [door], hardware_set="HW-9")
    kept = done(cast.locksmith, "doors", "hardware", [door], hardware_set="HW-9")
    services.sweep(timezone.now() + timedelta(days=2))
    assert list(BulkAct.objects.all()) == [kept]
    services.sweep(timezone.now() + timedelta(days=91))
    assert not BulkAct.objects.exists()
