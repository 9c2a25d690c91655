"""What a tablet tells is done by the ordinary services, once, and answered event by event."""

from keyctl.audit.models import Event
from keyctl.cores.models import Core
from keyctl.field.models import FieldEvent, RejectedEvent
from keyctl.orders import services as orders
from keyctl.orders.models import OrderLine
from tests.cast import Cast
from tests.keyctl.field.fieldroom import House, Tablet, make_core, outcomes


def test_a_swap_of_a_line_is_finished_with_the_core_that_was_used(
    cast: Cast, house: House, tablet: Tablet
) -> None:
    order = orders.open_swap_order(
        actor=cast.locksmith, site=cast.north, title="Front door", housings=[house.housing]
    )
    line = order.lines.get()

    answers = tablet.send(tablet.swapped(house.housing, house.spare, house.inside, line))

    assert outcomes(answers) == ["applied"], answers
    line.refresh_from_db()
    assert (line.state, line.core, line.core_out) == (OrderLine.State.DONE, house.spare, house.inside)
    assert Core.objects.get(housing=house.housing) == house.spare
    assert Core.objects.get(pk=house.inside.pk).place == Core.Place.SHELF


def test_a_swap_without_a_line_and_a_chain_of_acts_on_one_core(house: House, tablet: Tablet) -> None:
    inside, spare = house.inside, house.spare
    events = [
        tablet.put(spare, "case"),
        tablet.swapped(house.housing, spare, inside, core_in_version=spare.version + 1),
        tablet.put(inside, "bench", core_version=inside.version + 1),
        tablet.found(house.housing, spare),
    ]

    assert outcomes(tablet.send(*events)) == ["applied"] * 4

    assert Core.objects.get(housing=house.housing) == spare
    moved = Core.objects.get(pk=inside.pk)
    assert (moved.place, moved.version) == (Core.Place.BENCH, inside.version + 2)


def test_what_comes_again_is_not_done_again(house: House, tablet: Tablet) -> None:
    event = tablet.put(house.spare, "bench")
    first = tablet.send(event, event)
    again = tablet.send(event)

    assert outcomes(first) == ["applied", "duplicate"]
    assert outcomes(again) == ["duplicate"]
    assert again[0].first_outcome == "applied"
    assert Core.objects.get(pk=house.spare.pk).version == house.spare.version + 1
    assert FieldEvent.objects.count() == 1
    assert Event.objects.filter(verb="core.moved").count() == 1


def test_another_body_under_the_same_identifier_is_rejected_and_kept(house: House, tablet: Tablet) -> None:
    event = tablet.put(house.spare, "bench")
    other = event | {"body": event["body"] | {"place": "shelf"}}

    assert outcomes(tablet.send(event, other, other)) == ["applied", "rejected", "rejected"]

    assert Core.objects.get(pk=house.spare.pk).place == Core.Place.BENCH
    assert RejectedEvent.objects.count() == 1


def test_one_bad_item_does_not_hold_up_the_others(house: House, tablet: Tablet) -> None:
    core = make_core(house.site, by=tablet.person)
    good, bad, last = tablet.put(house.spare), tablet.put(core), tablet.put(core, "case")
    del bad["body"]["place"]
    answers = tablet.send(good, bad, "no event", None, last)

    assert outcomes(answers) == ["applied", "rejected", "rejected", "rejected", "applied"]
    assert answers[1].reason == "body/place is missing."
    assert RejectedEvent.objects.count() == 3
