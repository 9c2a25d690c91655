"""What a locksmith reads in the morning, in which order, and what is left to others."""

from datetime import timedelta
from typing import Any

import pytest
from django.test import Client
from django.utils import timezone

from keyctl import engine
from keyctl.accounts.models import User
from keyctl.field.models import ReconcileCase
from keyctl.interim.services import mark_interim
from keyctl.losses.models import CaseOrder, LossCase
from keyctl.orders import services
from keyctl.orders.models import OrderLine, WorkOrder
from keyctl.places.models import Building, Door, Floor, Housing
from keyctl.places.roles import Role
from keyctl.stock.models import PinBin
from keyctl.stock.services import stock_kit
from tests import factories
from tests.cast import Cast
from tests.keyctl.orders.workshop import Workshop, set_up
from tests.keyctl.rotations.yard import Yard
from tests.keyctl.start.reading import block, day, said, words_of

DOORS, BENCH, DISPUTED = "Which doors are next?", "What is on the bench?", "What contradicts the register?"
LEAVE, WAVES, PINS = "Which temporary cores", "Which waves", "Which pins run low?"


@pytest.fixture
def shop(cast: Cast) -> Workshop:
    return set_up(cast)


def house(cast: Cast, code: str) -> Building:
    return Building.objects.create(site=cast.north, code=code, name=f"House {code}")


def housing(building: Building, level: int, number: str) -> Housing:
    floor, _made = Floor.objects.get_or_create(building=building, level=level, label=f"Level {level}")
    return factories.make_housing(door=Door.objects.create(floor=floor, number=number))


def locked(cast: Cast, building: Building, number: str) -> Housing:
    """With a core in it that somebody can take out."""
    place = housing(building, 0, number)
    factories.install(set_up(cast).core(), place)
    return place


def order_for(cast: Cast, *housings: Housing, to: User | None = None, **facts: Any) -> WorkOrder:
    order = services.open_swap_order(
        actor=cast.locksmith, site=cast.north, title="Door work", housings=housings
    )
    WorkOrder.objects.filter(pk=order.pk).update(assigned_to=to or cast.locksmith, **facts)
    return order


def test_doors_stand_as_somebody_walks_from_house_to_house_and_floor_to_floor(cast: Cast) -> None:
    first, second = house(cast, "A"), house(cast, "B")
    way = [(first, 0, "002"), (first, 0, "010"), (first, 1, "001"), (second, 0, "001"), (second, 2, "003")]
    for building, level, number in (way[3], way[1], way[4], way[0], way[2]):
        order_for(cast, housing(building, level, number))
    walked = [what.split(",")[0] for what, _mark in said(block(cast.locksmith, DOORS))]
    assert walked == [f"{building.code} {number}" for building, _level, number in way]


def test_what_is_late_comes_first_then_a_loss_then_a_lock_out(cast: Cast) -> None:
    building = house(cast, "A")
    usual = order_for(cast, housing(building, 0, "001"), due_on=day(0))
    shut = services.open_lock_out(
        actor=cast.locksmith,
        site=cast.north,
        title="Shut",
        housings=[locked(cast, building, "002")],
        asked_by="The caretaker",
        until=day(3),
    )
    lost = order_for(cast, housing(building, 0, "003"))
    case = LossCase.objects.create(site=cast.north, number=1, opened_by=cast.officer)
    CaseOrder.objects.create(case=case, order=lost)
    late = order_for(cast, housing(building, 0, "004"), due_on=day(-2))
    found = block(cast.locksmith, DOORS)
    orders = [str(order) for order in (late, lost, shut, usual)]
    assert [line.about.split(" · ")[1].split(":")[0] for line in found.lines] == orders
    assert [mark for _what, mark in said(found)] == ["2 days late", "After a loss", "Lock-out", "Due today"]


def test_a_door_that_is_shut_already_is_left_alone_until_its_day(cast: Cast) -> None:
    building = house(cast, "A")
    facts: dict[str, Any] = {"actor": cast.locksmith, "site": cast.north, "title": "Shut"}
    for number, until in (("001", day(5)), ("002", day(0))):
        shut = services.open_lock_out(
            housings=[locked(cast, building, number)], asked_by="Somebody", until=until, **facts
        )
        shut.lines.update(core=set_up(cast).core(), shut_at=timezone.now())
    order_for(cast, housing(building, 0, "003"))
    assert [(what.split(",")[0], mark) for what, mark in said(block(cast.locksmith, DOORS))] == [
        ("A 002", "Lock-out"),
        ("A 003", ""),
        ("A 001", f"Stays shut until {day(5):%-d %b %Y}"),
    ]


def test_each_order_stands_by_the_next_of_its_doors(cast: Cast) -> None:
    building = house(cast, "A")
    order = order_for(cast, *(housing(building, 0, f"00{nth}") for nth in range(1, 4)))
    first = order.lines.order_by("ordinal")[0]
    OrderLine.objects.filter(pk=first.pk).update(state=OrderLine.State.CANCELLED)
    (line,) = block(cast.locksmith, DOORS).lines
    assert line.what.startswith("A 002")
    assert "1 more door after it" in line.about
    assert line.act
    assert line.act.url.endswith(f"/{order.lines.order_by('ordinal')[1].pk}/swap/")


def test_only_five_are_shown_and_the_rest_is_counted(cast: Cast, client: Client) -> None:
    building = house(cast, "A")
    for nth in range(7):
        order_for(cast, housing(building, 0, f"{nth:03}"))
    found = block(cast.locksmith, DOORS)
    assert (len(found.lines), found.rest) == (5, 2)
    assert "All doors on my way 2 more besides these" in words_of(client, cast.locksmith)


def test_what_is_given_to_another_locksmith_is_theirs_and_what_nobody_has_is_everybodys(cast: Cast) -> None:
    building = house(cast, "A")
    other = factories.make_user("other", site=cast.north, role=Role.LOCKSMITH)
    order_for(cast, housing(building, 0, "001"), to=other)
    free = services.open_swap_order(
        actor=cast.locksmith, site=cast.north, title="Free", housings=[housing(building, 0, "002")]
    )
    WorkOrder.objects.filter(pk=free.pk).update(assigned_to=None)
    mine, theirs = (block(smith, DOORS) for smith in (cast.locksmith, other))
    assert [line.what.split(",")[0] for line in mine.lines] == ["A 002"]
    assert "nobody’s yet" in mine.lines[0].about
    assert [line.what.split(",")[0] for line in theirs.lines] == ["A 001", "A 002"]


def test_an_order_that_stands_still_sends_nobody_to_a_door(cast: Cast) -> None:
    order = order_for(cast, housing(house(cast, "A"), 0, "001"))
    services.wait_for(actor=cast.locksmith, order=order, waits_for="Parts") if hasattr(
        services, "wait_for"
    ) else WorkOrder.objects.filter(pk=order.pk).update(state="waiting", waits_for="Parts")
    assert not block(cast.locksmith, DOORS).lines


def test_the_bench_shows_cores_to_pin_and_those_that_wait_to_go_out(shop: Workshop) -> None:
    order = shop.pin_order(shop.core(pinned=False), shop.core(pinned=False, nth=1))
    shop.swap_line()
    found = block(shop.smith, BENCH)
    assert [line.what for line in found.lines] == [str(order), "1 pinned core waits to go out"]
    assert "2 still to do" in found.lines[0].about
    assert found.lines[0].act
    assert found.lines[0].act.url.endswith(f"/{order.pk}/bench/")


def test_a_core_without_pins_does_not_wait_to_go_out(shop: Workshop) -> None:
    shop.swap_order()
    assert not block(shop.smith, BENCH).lines


def test_contradictions_are_named_with_their_case(cast: Cast) -> None:
    case = ReconcileCase.objects.create(site=cast.north, number=4)
    ReconcileCase.objects.create(
        site=cast.north,
        number=5,
        state="settled",
        settled_at=timezone.now(),
        settled_by=cast.locksmith,
        note="x",
    )
    (line,) = block(cast.locksmith, DISPUTED).lines
    assert line.act
    assert (line.what, line.act.label) == ("case 4", "Settle")
    assert str(case.pk) in line.act.url


def test_temporary_cores_leave_by_their_day(shop: Workshop) -> None:
    for nth, shift in enumerate((3, 40)):
        place = shop.housing()
        core = factories.install(shop.core(nth=nth), place)
        mark_interim(actor=shop.smith, core=core, until=day(shift), why="Painters")
    (line,) = block(shop.smith, LEAVE).lines
    assert f"by {day(3):%-d %b %Y}: Painters" in line.about


def test_a_wave_under_way_says_how_many_doors_are_left(cast: Cast) -> None:
    yard = Yard.of(cast)
    rotation = yard.accepted()
    assert not block(cast.locksmith, WAVES).lines
    wave = yard.begin(rotation)
    (line,) = block(cast.locksmith, WAVES).lines
    left = wave.doors.count()
    assert f"{left} door{'' if left == 1 else 's'} left" in line.about


def test_pins_that_run_low_stand_with_the_emptiest_first(cast: Cast) -> None:
    factories.make_door(cast.north)
    bins = stock_kit(actor=cast.locksmith, site=cast.north, format=engine.load_format("small-a2-7"), each=50)
    assert not block(cast.locksmith, PINS).lines
    PinBin.objects.filter(pk=bins[3].pk).update(count=4, low_at=10)
    PinBin.objects.filter(pk=bins[5].pk).update(count=2, low_at=10)
    PinBin.objects.filter(pk=bins[7].pk).update(is_doubtful=True)
    found = block(cast.locksmith, PINS)
    assert [mark for _what, mark in said(found)] == ["Low", "Low", "Count it"]
    assert "2 left" in found.lines[0].about


def test_an_empty_morning_is_said_in_words(cast: Cast, client: Client) -> None:
    factories.make_door(cast.north)
    page = words_of(client, cast.locksmith)
    for sentence in (
        "No door waits for you.",
        "Nothing waits at the bench.",
        "Nothing is disputed.",
        "No temporary core must leave within two weeks.",
        "No wave is under way.",
        "No pins run low.",
    ):
        assert sentence in page


def test_no_bitting_and_no_pin_of_a_core_stands_on_the_page(shop: Workshop, client: Client) -> None:
    """The cuts of every key of the system, as the vault holds them, are looked for in what is served."""
    from keyctl.vault import services as vault

    shop.pin_order()
    shop.swap_line()
    served = words_of(client, shop.smith)
    for symbol in shop.system.symbols.all():
        cuts = vault.unseal(symbol, "bitting")
        assert cuts not in served
        assert cuts.replace(" ", "") not in served


def test_work_at_another_site_is_nobodys_business_here(shop: Workshop, client: Client) -> None:
    shop.pin_order()
    order_for(shop.cast, shop.housing(), to=shop.cast.stranger, due_on=day(-timedelta(days=1).days))
    ReconcileCase.objects.create(site=shop.cast.north, number=4)
    page = words_of(client, shop.cast.stranger)
    assert "Order" not in page.replace("order", "")
    assert "Case 4" not in page
