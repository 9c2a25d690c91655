"""What a withdrawn tablet tells has no effect until somebody takes it in, or sets it aside."""

from typing import Any

import pytest
from django.core.exceptions import PermissionDenied
from django.http import Http404
from django.test import Client
from django.urls import reverse

from keyctl.audit.models import Event
from keyctl.cores.models import Core
from keyctl.field import services
from keyctl.field.models import FieldEvent, ReconcileCase
from keyctl.lib.errors import Conflict, Refused
from keyctl.places.roles import Role
from tests import factories
from tests.cast import Cast
from tests.keyctl.field.fieldroom import House, Tablet, make_core, outcomes


@pytest.fixture
def told(cast: Cast, house: House, tablet: Tablet) -> list[dict[str, Any]]:
    """Two acts that arrive after the tablet was withdrawn, the later one first."""
    assert tablet.device
    tablet.device = services.withdraw_device(actor=cast.locksmith, device=tablet.device, reason="Lost")
    first = tablet.put(house.spare, "bench")
    second = tablet.put(house.spare, "shelf", core_version=house.spare.version + 1)
    assert outcomes(tablet.send(second, first)) == ["accepted_with_conflict"] * 2
    return [first, second]


def test_it_waits_without_effect(house: House, told: list[dict[str, Any]]) -> None:
    assert FieldEvent.objects.filter(quarantine="waiting", case=None).count() == 2
    spare = Core.objects.get(pk=house.spare.pk)
    assert (spare.version, spare.is_disputed) == (house.spare.version, False)
    assert not ReconcileCase.objects.exists()


def test_it_is_taken_in_in_the_order_of_the_tablet(
    cast: Cast, house: House, tablet: Tablet, told: list[dict[str, Any]]
) -> None:
    colleague = factories.make_user("colleague", site=cast.north, role=Role.LOCKSMITH)
    done = services.take_in(actor=colleague, events=list(FieldEvent.objects.all()))
    assert [event.later_outcome for event in done] == ["applied", "applied"]
    spare = Core.objects.get(pk=house.spare.pk)
    assert (spare.place, spare.version) == ("shelf", house.spare.version + 2)
    assert {event.actor for event in Event.objects.filter(verb="core.moved")} == {colleague}
    [again] = tablet.send(told[0])
    assert (again.outcome, again.first_outcome) == ("duplicate", "accepted_with_conflict")
    assert Core.objects.get(pk=spare.pk).version == spare.version
    with pytest.raises(Conflict, match="does not wait any more"):
        services.take_in(actor=colleague, events=done)


def test_what_contradicts_goes_to_a_case_when_it_is_taken_in(
    cast: Cast, house: House, told: list[dict[str, Any]]
) -> None:
    events = list(FieldEvent.objects.all())
    done = services.take_in(actor=cast.locksmith, events=[event for event in events if event.sequence == 2])
    case = ReconcileCase.objects.get()
    assert (done[0].later_outcome, done[0].case) == ("accepted_with_conflict", case)
    assert Core.objects.get(pk=house.spare.pk).disputed_over == str(case)


def test_it_is_set_aside_with_a_reason(cast: Cast, house: House, told: list[dict[str, Any]]) -> None:
    events = list(FieldEvent.objects.all())
    with pytest.raises(Refused, match="Say why"):
        services.set_aside(actor=cast.locksmith, events=events, reason=" ")
    services.set_aside(actor=cast.locksmith, events=events, reason="Written by a thief")
    assert set(FieldEvent.objects.values_list("quarantine", "later_reason")) == {
        ("set-aside", "Written by a thief")
    }
    assert Core.objects.get(pk=house.spare.pk).version == house.spare.version


def test_only_locksmiths_of_the_site_decide(cast: Cast, told: list[dict[str, Any]]) -> None:
    events = list(FieldEvent.objects.all())
    for name, person in cast.everybody.items():
        if name != "locksmith":
            with pytest.raises(Http404 if name == "stranger" else PermissionDenied):
                services.take_in(actor=person, events=events)
            with pytest.raises(Http404 if name == "stranger" else PermissionDenied):
                services.set_aside(actor=person, events=events, reason="No")


def test_the_page_says_what_was_told_and_takes_what_is_ticked(
    cast: Cast, house: House, told: list[dict[str, Any]], client: Client
) -> None:
    client.force_login(cast.locksmith)
    page = client.get(reverse("field:quarantine")).content.decode()
    assert f"put core {house.spare} on the bench" in page
    assert client.post(reverse("field:take-in")).status_code == 422
    chosen = {"event": told[0]["event_id"]}
    assert client.post(reverse("field:take-in"), chosen).status_code == 302
    assert FieldEvent.objects.get(pk=told[0]["event_id"]).later_outcome == "applied"
    aside = {"event": told[1]["event_id"], "reason": "Not theirs"}
    assert client.post(reverse("field:set-aside"), aside).status_code == 302
    client.force_login(cast.stranger)
    assert client.post(reverse("field:take-in"), chosen).status_code == 422


def test_a_file_of_a_withdrawn_tablet_waits_as_well(cast: Cast, tablet: Tablet, told: Any) -> None:
    core = make_core(cast.north, by=cast.locksmith)
    assert outcomes(tablet.send(tablet.put(core), via="file")) == ["accepted_with_conflict"]
    assert FieldEvent.objects.filter(quarantine="waiting").count() == 3
