"""Inspections: the points by what a door is, what is found, and the work that follows."""

from typing import Any

import pytest
from django.core.exceptions import PermissionDenied
from django.http import Http404

from keyctl.audit.selectors import history_of
from keyctl.lib.errors import Conflict, Refused
from keyctl.orders import services
from keyctl.orders.checklists import points_of
from keyctl.orders.models import OrderLine
from keyctl.places.models import Door, Housing
from tests import factories
from tests.keyctl.orders.workshop import Workshop


def a_line(shop: Workshop, door: Door | None = None) -> OrderLine:
    chosen = door or factories.make_housing(shop.site).door
    order = services.open_inspect_order(actor=shop.smith, site=shop.site, title="Yearly", doors=[chosen])
    return order.lines.get()


def all_good(line: OrderLine, **others: str) -> dict[str, str]:
    return {point.key: "good" for point in points_of(line)} | others


EVERYWHERE = ["seated", "turns", "latches", "reachable"]


@pytest.mark.parametrize(
    ("facts", "keys"),
    [
        ({}, EVERYWHERE),
        ({"is_egress": True}, [*EVERYWHERE, "way_out"]),
        ({"is_fire_rated": True}, [*EVERYWHERE, "fire_closes", "fire_label"]),
        ({"is_egress": True, "is_fire_rated": True}, [*EVERYWHERE, "way_out", "fire_closes", "fire_label"]),
    ],
)
def test_the_points_are_those_of_the_opening(shop: Workshop, facts: dict[str, Any], keys: list[str]) -> None:
    door = factories.make_housing(shop.site, door=factories.make_door(shop.site, **facts)).door
    assert sorted(point.key for point in points_of(a_line(shop, door))) == sorted(keys)


def test_a_padlock_has_no_latch_and_no_way_out(shop: Workshop) -> None:
    door = factories.make_housing(shop.site, kind=Housing.Kind.PADLOCK).door
    assert [point.key for point in points_of(a_line(shop, door))] == [
        "seated",
        "turns",
        "closes",
        "reachable",
    ]


def test_a_good_door_is_done_and_its_points_are_kept_as_worded(shop: Workshop) -> None:
    line = a_line(shop)
    points = points_of(line)
    services.check_line(actor=shop.smith, line=line, items=all_good(line), note="Oiled")
    line.refresh_from_db()
    assert (line.state, line.order.state, line.note) == ("done", "done", "Oiled")
    assert [check.label for check in line.checks.all()] == [point.label for point in points]
    assert "nothing bad" in history_of(line.order)[1].sentence


def test_a_bad_door_is_done_too_and_says_what_is_bad(shop: Workshop) -> None:
    line = a_line(shop)
    services.check_line(actor=shop.smith, line=line, items=all_good(line, latches="bad"))
    line.refresh_from_db()
    assert line.state == "done"
    assert [check.key for check in line.checks.filter(found="bad")] == ["latches"]
    assert history_of(line.order)[1].detail["bad"] == ["latches"]


def test_every_point_is_told_and_no_other(shop: Workshop) -> None:
    line = a_line(shop)
    items = all_good(line, turns="maybe", paint="good")
    del items["latches"]
    with pytest.raises(Refused) as refusal:
        services.check_line(actor=shop.smith, line=line, items=items)
    assert len(refusal.value.reasons) == 3
    assert not line.checks.exists()


def test_a_door_is_checked_once(shop: Workshop) -> None:
    line = a_line(shop)
    services.check_line(actor=shop.smith, line=line, items=all_good(line))
    with pytest.raises(Conflict, match="was first"):
        services.check_line(actor=shop.smith, line=line, items=all_good(line))


def test_a_line_without_a_checklist_is_not_checked(shop: Workshop) -> None:
    with pytest.raises(Refused, match="there to pin cores"):
        services.check_line(actor=shop.smith, line=shop.pin_order().lines.get(), items={})


def test_a_bad_core_is_followed_by_a_swap_that_says_where_it_arose(shop: Workshop) -> None:
    housing, _ = shop.furnished()
    line = a_line(shop, housing.door)
    services.check_line(actor=shop.smith, line=line, items=all_good(line, seated="bad"))
    order = services.open_follow_up(actor=shop.smith, line=line, kind="swap")
    assert (order.kind, order.lines.get().housing, order.arose_from) == ("swap", housing, line)


def test_what_somebody_else_mends_is_followed_by_another_look(shop: Workshop) -> None:
    line = a_line(shop)
    services.check_line(actor=shop.smith, line=line, items=all_good(line, latches="bad"))
    order = services.open_follow_up(actor=shop.smith, line=line, kind="inspect")
    assert (order.kind, order.lines.get().door) == ("inspect", line.door)


def test_a_good_door_is_followed_by_nothing(shop: Workshop) -> None:
    line = a_line(shop)
    services.check_line(actor=shop.smith, line=line, items=all_good(line))
    with pytest.raises(Refused, match="Nothing bad"):
        services.open_follow_up(actor=shop.smith, line=line, kind="inspect")


def test_a_door_that_is_not_reached_stays_open_and_says_why(shop: Workshop) -> None:
    line = services.report_unreached(actor=shop.smith, line=a_line(shop), reason="Examination until four")
    assert (line.is_open, line.unreached_why) == (True, "Examination until four")
    assert "could not reach" in history_of(line.order)[0].sentence
    with pytest.raises(Refused, match="Say why"):
        services.report_unreached(actor=shop.smith, line=line, reason=" ")


def test_there_is_a_door_in_it_and_it_is_of_this_site(shop: Workshop) -> None:
    facts: dict[str, Any] = {"actor": shop.smith, "site": shop.site, "title": "Yearly"}
    with pytest.raises(Refused, match="no line"):
        services.open_inspect_order(doors=[], **facts)
    with pytest.raises(Refused) as refusal:
        services.open_inspect_order(doors=[factories.make_door(shop.cast.south)], **facts)
    assert "another site" in refusal.value.reasons[0]


def test_only_locksmiths_open_and_check(shop: Workshop) -> None:
    line = a_line(shop)
    with pytest.raises(PermissionDenied):
        services.check_line(actor=shop.cast.manager, line=line, items=all_good(line))
    with pytest.raises(Http404):
        services.check_line(actor=shop.cast.stranger, line=line, items=all_good(line))
    with pytest.raises(PermissionDenied):
        services.open_inspect_order(
            actor=shop.cast.manager,
            site=shop.site,
            title="Yearly",
            doors=[line.door_at or factories.make_door()],
        )
