"""What a tablet cannot do behind somebody's back: an order's, an officer's, or that of who has no rights."""

from datetime import timedelta

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from keyctl.audit.models import Event
from keyctl.cores.models import Core
from keyctl.field.models import CaseStory, FieldEvent
from keyctl.field.selectors.pack import pack_for
from keyctl.field.views.api import MOST_ENVELOPES
from keyctl.orders import services as orders
from keyctl.orders.models import OrderLine
from keyctl.places.models import Membership
from keyctl.places.roles import Role
from tests import factories
from tests.cast import Cast
from tests.keyctl.field.fieldroom import House, Tablet, make_core, outcomes
from tests.keyctl.field.test_handing_in import exported, hand_in

CONFLICT = "accepted_with_conflict"


def keep_shut(cast: Cast, house: House) -> OrderLine:
    """The spare core keeps the door shut; its own is on the shelf."""
    until = timezone.localdate() + timedelta(days=3)
    order = orders.open_lock_out(
        actor=cast.locksmith,
        site=cast.north,
        title="Burst pipe",
        housings=[house.housing],
        asked_by="Facilities",
        until=until,
    )
    return orders.complete_swap(
        actor=cast.locksmith,
        line=order.lines.get(),
        core_in=house.spare,
        core_in_version=house.spare.version,
        core_out_id=house.inside.pk,
        put_at="shelf",
        operating_key_turned=True,
        control_key_came_out=True,
        egress_and_latch_tried=True,
    )


def test_a_door_that_is_kept_shut_gets_no_core_past_its_order(
    cast: Cast, house: House, tablet: Tablet
) -> None:
    """Somebody swaps there without an order: a case says so, and the order still waits for its own core."""
    line, other = keep_shut(cast, house), make_core(cast.north, by=cast.locksmith)
    house.spare.refresh_from_db()
    [answer] = tablet.send(tablet.swapped(house.housing, other, house.spare))
    assert (answer.outcome, "kept shut by" in answer.reason) == (CONFLICT, True)
    assert Core.objects.get(housing=house.housing) == house.spare
    line.refresh_from_db()
    assert line.is_shut


@pytest.mark.parametrize("name", ["requester", "auditor", "manager"])
def test_who_is_no_locksmith_does_nothing_in_a_locksmiths_name(
    cast: Cast, house: House, tablet: Tablet, name: str
) -> None:
    """With the tablet in hand and a sign-in of their own; what is told is kept all the same."""
    [answer] = tablet.send(tablet.put(house.spare, "gone"), actor=cast.everybody[name])
    assert answer.outcome == CONFLICT
    assert Core.objects.get(pk=house.spare.pk).place == Core.Place.SHELF
    assert not Event.objects.filter(verb="core.moved").exists()


def test_a_file_with_too_many_envelopes_is_refused_as_a_whole(
    cast: Cast, tablet: Tablet, client: Client
) -> None:
    """Nothing of it is lost in silence."""
    client.force_login(cast.locksmith)
    remarks = [tablet.event("noted", door=None, line=None, text=f"Round {nth}") for nth in range(21)]
    page = hand_in(client, [exported(tablet, remark) for remark in remarks[: MOST_ENVELOPES + 1]])
    assert page.status_code == 422
    assert f"at most {MOST_ENVELOPES}" in page.content.decode()
    assert not FieldEvent.objects.exists()


def test_who_works_at_the_site_no_more_sees_nothing_of_their_tablet(
    cast: Cast, house: House, tablet: Tablet, client: Client
) -> None:
    tablet.send(tablet.put(house.spare, "bench"))
    assert tablet.device
    Membership.objects.filter(user=cast.locksmith).delete()
    client.force_login(cast.locksmith)
    assert client.get(reverse("field:device", args=[tablet.device.pk])).status_code == 404


def test_a_remark_on_an_inspection_stands_at_its_door(cast: Cast, tablet: Tablet) -> None:
    door = factories.make_door(cast.north)
    order = orders.open_inspect_order(
        actor=cast.locksmith, site=cast.north, title="Yearly look", doors=[door]
    )
    remark = tablet.event("noted", door=None, line=str(order.lines.get().pk), text="Hinge squeaks")
    assert outcomes(tablet.send(remark)) == ["applied"]
    told = Event.objects.get(verb="field.noted")
    assert str(door) in told.sentence
    assert told.subjects.filter(subject_id=door.pk).exists()


def test_the_pack_says_which_points_nobody_passes_over(cast: Cast, house: House) -> None:
    keep_shut(cast, house)
    orders.open_inspect_order(
        actor=cast.locksmith, site=cast.north, title="Yearly look", doors=[house.housing.door]
    )
    needed = {
        order["kind"]: {each["key"] for each in order["lines"][0]["checklist"] if each["is_needed"]}
        for order in pack_for(cast.locksmith, None)["orders"]
    }
    assert needed == {"lock_out": {"own_core", "own_key", "free"}, "inspect": set()}


def test_why_it_was_not_done_is_told_at_one_site_only(cast: Cast, house: House, tablet: Tablet) -> None:
    """Somebody who works at both puts a core of one into a door of the other."""
    Membership.objects.create(user=cast.locksmith, site=cast.south, role=Role.LOCKSMITH)
    foreign = make_core(cast.south, by=cast.stranger)
    [answer] = tablet.send(tablet.swapped(house.housing, foreign, house.inside))
    assert answer.case
    reasons = {story.case: story.reason for story in CaseStory.objects.select_related("case")}
    assert len(reasons) == 2
    assert str(cast.south) in reasons.pop(answer.case)
    [other] = reasons.values()
    assert str(cast.south) not in other
    assert "another site" in other
