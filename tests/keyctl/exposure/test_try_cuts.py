"""Trying cuts that somebody found in every core of a site."""

import pytest
from django.core.exceptions import PermissionDenied
from django.test import Client
from django.urls import reverse

from keyctl.audit.models import Event
from keyctl.exposure import trying
from keyctl.exposure.trying import try_cuts
from keyctl.lib.errors import Refused
from keyctl.systems.services import bitting_of
from tests import factories
from tests.keyctl.exposure.test_assess_site import Assessed, assessed, clears, every_key, keys_of
from tests.signing import proven, sign_in

__all__ = ["assessed"]

WHY = "a key was found"


def test_cuts_turn_the_cores_that_their_pins_say(assessed: Assessed) -> None:
    """Every twentieth of all bittings, against the breaks of every core."""
    for key in every_key()[::401]:
        found = try_cuts(
            actor=assessed.cast.officer,
            sign_in=proven(assessed.cast.officer),
            site=assessed.cast.north,
            system=assessed.system,
            cuts="".join(map(str, key)),
            reason=WHY,
        )
        expected = {
            core: (clears(core, key), clears(core, key, control=True))
            for core in assessed.cores
            if clears(core, key) or clears(core, key, control=True)
        }
        assert {each.core: (each.operates, each.withdraws) for each in found.taken} == expected
        assert found.tried == 4
        assert found.is_incidental == (bool(expected) and key not in keys_of(assessed.system).values())


def test_a_known_key_is_named(assessed: Assessed) -> None:
    symbol = factories.symbol(assessed.system, "A")
    found = try_cuts(
        actor=assessed.cast.locksmith,
        sign_in=proven(assessed.cast.locksmith),
        site=assessed.cast.north,
        system=assessed.system,
        cuts=bitting_of(symbol),
        reason=WHY,
    )
    assert (found.symbols, len(found.taken), found.is_incidental) == ([symbol], 4, False)


def test_the_page_shows_cores_and_never_the_cuts(assessed: Assessed, client: Client) -> None:
    sign_in(client, assessed.cast.officer)
    cuts = bitting_of(factories.symbol(assessed.system, "A"))
    address = reverse("exposure:cuts", kwargs={"pk": assessed.cast.north.pk})
    answer = client.post(address, {"system": assessed.system.pk, "cuts": cuts, "reason": WHY})
    text = answer.content.decode()
    assert answer.status_code == 200
    assert all(str(core) in text for core in assessed.cores)
    assert cuts not in text
    event = Event.objects.get(verb="exposure.cuts_tried")
    code = assessed.system.code
    assert event.sentence == f"asked which of 4 cores at North site a key of {code} turns: {WHY}"


def test_what_is_no_key_of_the_format_is_refused_before_anything_is_tried(
    assessed: Assessed, client: Client
) -> None:
    sign_in(client, assessed.cast.officer)
    address = reverse("exposure:cuts", kwargs={"pk": assessed.cast.north.pk})
    answer = client.post(address, {"system": assessed.system.pk, "cuts": "99", "reason": WHY})
    assert answer.status_code == 422
    assert not Event.objects.filter(verb="exposure.cuts_tried").exists()


@pytest.mark.parametrize("name", ["auditor", "desk", "manager", "administrator"])
def test_it_is_for_locksmiths_and_officers(name: str, assessed: Assessed) -> None:
    with pytest.raises(PermissionDenied):
        try_cuts(
            actor=assessed.cast.everybody[name],
            sign_in=proven(assessed.cast.everybody[name]),
            site=assessed.cast.north,
            system=assessed.system,
            cuts="00000",
            reason=WHY,
        )


def test_it_refuses_more_cores_than_one_waits_for(
    assessed: Assessed, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(trying, "MOST_CORES", 3)
    with pytest.raises(Refused, match="more than 3 cores"):
        try_cuts(
            actor=assessed.cast.officer,
            sign_in=proven(assessed.cast.officer),
            site=assessed.cast.north,
            system=assessed.system,
            cuts="00000",
            reason=WHY,
        )
