"""A swap is finished at the door, with all its checks."""

import pytest
from django.core.exceptions import PermissionDenied
from django.http import Http404

from keyctl.audit.selectors import history_of
from keyctl.cores.models import Core
from keyctl.lib.errors import Conflict, Refused
from keyctl.orders import services
from keyctl.orders.models import WorkOrder
from tests import factories
from tests.keyctl.orders.workshop import Workshop, complete


def test_the_new_core_is_in_the_door(shop: Workshop) -> None:
    line = complete(shop.swap_line(), shop.smith)
    assert line.core is not None
    line.core.refresh_from_db()
    assert line.core.housing == line.housing


def test_the_old_core_goes_where_the_locksmith_says(shop: Workshop) -> None:
    housing, old = shop.furnished()
    line = complete(shop.swap_line(housing), shop.smith, core_out_id=old.pk, put_at="case")
    old.refresh_from_db()
    assert line.core_out == old
    assert (old.place, old.carrier) == (Core.Place.CASE, shop.smith)


def test_the_order_closes_itself(shop: Workshop) -> None:
    order = complete(shop.swap_line(), shop.smith).order
    order.refresh_from_db()
    assert order.state == WorkOrder.State.DONE


def test_the_order_stays_open_while_a_door_waits(shop: Workshop) -> None:
    order = shop.swap_order(shop.housing(), shop.housing())
    line = order.lines.get(ordinal=1)
    complete(services.choose_core(actor=shop.smith, line=line, core=shop.core()), shop.smith)
    order.refresh_from_db()
    assert order.is_open


def test_history_tells_the_swap_the_checks_and_the_end(shop: Workshop) -> None:
    order = complete(shop.swap_line(), shop.smith).order
    verbs = [event.verb for event in history_of(order)]
    assert verbs[:3] == ["order.done", "order.swap_checked", "core.swapped"]


def test_the_door_remembers_that_the_way_out_was_tried(shop: Workshop) -> None:
    line = complete(shop.swap_line(), shop.smith)
    assert line.housing is not None
    assert "way out and latch good" in history_of(line.housing.door)[0].sentence


def test_the_note_is_kept(shop: Workshop) -> None:
    line = complete(shop.swap_line(), shop.smith, note="Strike plate is loose.")
    line.refresh_from_db()
    assert line.note == "Strike plate is loose."


@pytest.mark.parametrize("check", ["operating_key_turned", "control_key_came_out", "egress_and_latch_tried"])
def test_it_refuses_while_one_check_is_open(shop: Workshop, check: str) -> None:
    line = shop.swap_line()
    with pytest.raises(Refused, match="something was not tried yet") as refused:
        complete(line, shop.smith, **{check: False})
    assert len(refused.value.reasons) == 1
    line.refresh_from_db()
    assert line.is_open


def test_it_refuses_a_line_without_a_chosen_core(shop: Workshop) -> None:
    line = shop.swap_line()
    line.core = None
    line.save(update_fields=["core"])
    with pytest.raises(Refused, match="No core was chosen"):
        complete(line, shop.smith, core_in_version=1)


def test_it_refuses_a_page_that_showed_another_core(shop: Workshop) -> None:
    line, shown = shop.swap_line(), shop.core()
    with pytest.raises(Conflict, match="in the meantime"):
        complete(line, shop.smith, core_in_id=shown.pk)


def test_it_refuses_a_page_from_before_the_core_was_pinned_anew(shop: Workshop) -> None:
    line = shop.swap_line()
    assert line.core is not None
    with pytest.raises(Conflict, match="has changed since you looked at it"):
        complete(line, shop.smith, core_in_version=line.core.version - 1)


def test_it_refuses_when_the_door_holds_another_core_than_was_seen(shop: Workshop) -> None:
    housing, _ = shop.furnished()
    line = shop.swap_line(housing)
    with pytest.raises(Conflict, match="somebody swapped it since you began"):
        complete(line, shop.smith, core_out_id=None)


def test_the_second_one_hears_who_was_first(shop: Workshop) -> None:
    line = shop.swap_line()
    complete(line, shop.smith)
    with pytest.raises(Conflict, match="Locksmith was first and finished Order"):
        complete(line, shop.smith)


def test_an_administrator_may_not(shop: Workshop) -> None:
    with pytest.raises(PermissionDenied):
        complete(shop.swap_line(), shop.cast.administrator)


def test_a_stranger_does_not_find_the_order(shop: Workshop) -> None:
    with pytest.raises(Http404):
        complete(shop.swap_line(), factories.make_user())


def test_a_core_that_a_hand_put_in_needs_no_choice_before(shop: Workshop) -> None:
    line, core = shop.swap_order().lines.get(), shop.core()
    done = complete(line, shop.smith, core_in=core, core_in_version=core.version)
    assert (done.core, done.state) == (core, "done")
    assert core.order_lines.get() == done


def test_it_takes_the_place_of_the_one_that_was_chosen(shop: Workshop) -> None:
    line, other = shop.swap_line(), shop.core()
    assert complete(line, shop.smith, core_in=other, core_in_version=other.version).core == other


def test_it_is_refused_as_a_choice_would_be(shop: Workshop) -> None:
    line, unpinned = shop.swap_order().lines.get(), shop.core(pinned=False)
    with pytest.raises(Refused, match="not pinned yet"):
        complete(line, shop.smith, core_in=unpinned, core_in_version=unpinned.version)


def test_what_came_out_is_the_version_that_was_seen(shop: Workshop) -> None:
    housing, now = shop.furnished()
    line = shop.swap_line(housing)
    with pytest.raises(Conflict, match="has changed since"):
        complete(line, shop.smith, core_out_id=now.pk, core_out_version=now.version + 1)
    complete(line, shop.smith, core_out_id=now.pk, core_out_version=now.version)
