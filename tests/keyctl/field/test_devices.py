"""Tablets: registered with a proof, renamed, withdrawn; what they told and what is missing of it."""

import re
from typing import Any

import pytest
from django.core.exceptions import PermissionDenied
from django.http import Http404
from django.test import Client
from django.urls import reverse

from keyctl.audit.models import Event
from keyctl.field import services
from keyctl.field.models import Device
from keyctl.field.selectors.devices import gaps_of, used_twice
from keyctl.field.views.api import COOKIE
from keyctl.lib.errors import Conflict, Refused
from keyctl.places.models import Membership
from keyctl.places.roles import Role
from tests import factories
from tests.cast import Cast
from tests.keyctl.field.fieldroom import House, Tablet


def test_a_tablet_keeps_its_proof_and_the_server_a_digest(cast: Cast, client: Client) -> None:
    client.force_login(cast.locksmith)
    assert client.post(reverse("field:register"), {"name": "  Blue   case "}).status_code == 302

    device = Device.objects.get()
    assert (device.name, device.site, device.owner) == ("Blue case", cast.north, cast.locksmith)
    cookie = client.cookies[COOKIE]
    assert (cookie["httponly"], cookie["samesite"], cookie["path"]) == (True, "Strict", "/field/")
    secret = cookie.value.partition(".")[2]
    assert len(secret) >= 43
    assert secret not in device.digest
    assert services.device_of(cookie.value) == device
    assert client.get("/field/state/").json()["device"] == {
        "id": str(device.pk),
        "name": "Blue case",
        "next_sequence": 1,
    }
    assert Event.objects.get(verb="device.registered").actor == cast.locksmith


def test_programs_are_answered_in_json(cast: Cast, client: Client) -> None:
    client.force_login(cast.locksmith)
    url, accept = reverse("field:register"), {"Accept": "application/json"}
    assert client.post(url, {"name": ""}, headers=accept).json()["status"] == 422
    done = client.post(url, {"name": "Blue case"}, headers=accept)
    assert (done.status_code, done.json()["device"]["name"]) == (201, "Blue case")


@pytest.mark.parametrize("proof", ["", ".", "no uuid.secret", "{pk}.", "{pk}.other", "{pk}", "\x00.\ud800"])
def test_what_is_no_proof_is_nobody(tablet: Tablet, proof: str) -> None:
    assert tablet.device
    assert services.device_of(proof.replace("{pk}", str(tablet.device.pk))) is None


def test_a_name_is_needed_and_fits(cast: Cast) -> None:
    for name in (" ", "x" * 61):
        with pytest.raises(Refused):
            services.register_device(actor=cast.locksmith, site=cast.north, name=name)


def test_only_locksmiths_register_at_their_site(cast: Cast) -> None:
    for name, person in cast.everybody.items():
        if name != "locksmith":
            with pytest.raises(Http404 if name == "stranger" else PermissionDenied):
                services.register_device(actor=person, site=cast.north, name="Tablet")


def test_owner_and_administrator_keep_it_and_nobody_else(cast: Cast, tablet: Tablet) -> None:
    assert tablet.device
    for name, person in cast.everybody.items():
        if name in {"locksmith", "administrator"}:
            services.rename_device(actor=person, device=tablet.device, name=f"Of {name}")
        else:
            with pytest.raises(Http404 if name == "stranger" else PermissionDenied):
                services.rename_device(actor=person, device=tablet.device, name="Mine")
            with pytest.raises(Http404 if name == "stranger" else PermissionDenied):
                services.withdraw_device(actor=person, device=tablet.device, reason="Mine")
    tablet.device.refresh_from_db()
    assert tablet.device.name == "Of administrator"


def test_it_is_withdrawn_once_with_a_reason(cast: Cast, tablet: Tablet) -> None:
    assert tablet.device
    facts: dict[str, Any] = {"actor": cast.administrator, "device": tablet.device}
    for reason in (" ", "x" * 201):
        with pytest.raises(Refused):
            services.withdraw_device(**facts, reason=reason)
    device = services.withdraw_device(**facts, reason="Left on a train")
    assert device.is_withdrawn
    with pytest.raises(Conflict, match="Administrator has withdrawn"):
        services.withdraw_device(**facts, reason="Again")


def test_the_list_is_of_ones_own_and_of_ones_sites(cast: Cast, tablet: Tablet, client: Client) -> None:
    colleague = factories.make_user(site=cast.north, role=Role.LOCKSMITH)
    Membership.objects.create(user=cast.stranger, site=cast.south, role=Role.ADMINISTRATOR)
    seen = {}
    for person in (cast.locksmith, cast.administrator, colleague, cast.stranger):
        client.force_login(person)
        seen[person] = "Tablet 1" in client.get(reverse("field:devices")).content.decode()
    assert seen == {cast.locksmith: True, cast.administrator: True, colleague: False, cast.stranger: False}
    client.force_login(cast.desk)
    assert client.get(reverse("field:devices")).status_code == 403


def test_numbers_that_never_came_are_shown(house: House, tablet: Tablet, client: Client) -> None:
    events = [tablet.put(house.spare) for _ in range(9)]
    tablet.send(events[2], events[4], events[8], {"sequence": 6})
    assert tablet.device
    assert [str(gap) for gap in gaps_of(tablet.device)] == ["1 to 2", "4", "7 to 8"]
    client.force_login(tablet.person)
    page = client.get(reverse("field:device", args=[tablet.device.pk])).content.decode()
    assert "1 to 2, 4, 7 to 8" in re.sub(r"\s+", " ", page)


def test_a_number_that_was_given_twice_is_a_fact_too(house: House, tablet: Tablet) -> None:
    tablet.send(
        tablet.put(house.spare) | {"sequence": 1}, tablet.found(house.housing, None) | {"sequence": 1}
    )
    assert tablet.device
    assert used_twice(tablet.device) == [1]
    assert tablet.device.events.count() == 2
