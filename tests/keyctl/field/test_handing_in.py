"""The file that a tablet exported, handed in from any computer."""

import json
from typing import Any

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from keyctl.audit.models import Event
from keyctl.field.models import FieldEvent
from keyctl.places.roles import Role
from tests import factories
from tests.cast import Cast
from tests.keyctl.field.fieldroom import House, Tablet


def exported(tablet: Tablet, *events: Any) -> dict[str, Any]:
    now = timezone.now().isoformat()
    device = str(tablet.device.pk) if tablet.device else None
    return {"device": device, "exported_at": now, "sent_at": now, "events": list(events)}


def hand_in(client: Client, body: Any) -> Any:
    raw = body if isinstance(body, bytes) else json.dumps(body).encode()
    file = SimpleUploadedFile("outbox.json", raw, content_type="application/json")
    return client.post(reverse("field:hand-in"), {"file": file})


def test_a_file_is_taken_once_in_the_name_of_who_hands_it_in(
    cast: Cast, house: House, tablet: Tablet, client: Client
) -> None:
    colleague = factories.make_user("colleague", site=cast.north, role=Role.LOCKSMITH)
    client.force_login(colleague)
    body = exported(tablet, tablet.put(house.spare, "bench"), {"kind": "put"})
    for outcome in ("Applied", "Known already"):
        page = hand_in(client, body)
        assert page.status_code == 200
        assert outcome in page.content.decode()
        assert "body is missing" in page.content.decode()
    event = FieldEvent.objects.get()
    assert (event.via, event.sender, event.device, event.skew_seconds) == (
        "file",
        colleague,
        tablet.device,
        None,
    )
    assert Event.objects.get(verb="core.moved").actor == colleague


def test_a_file_of_several_envelopes_holds_more_than_one_batch(
    cast: Cast, house: House, tablet: Tablet, client: Client
) -> None:
    client.force_login(cast.locksmith)
    remarks = [tablet.event("noted", door=None, line=None, text=f"Round {nth}") for nth in range(201)]
    page = hand_in(client, [exported(tablet, *remarks), exported(Tablet(cast.locksmith), remarks[0])])
    assert "202 events" in page.content.decode()
    assert FieldEvent.objects.count() == 201


@pytest.mark.parametrize(
    "body", [b"", b"\xff", b"[" * 90_000, b"null", {"events": 7}, {"events": [1]}, b" " * (1024 * 1024 + 1)]
)
def test_what_is_no_export_is_refused_in_words(cast: Cast, client: Client, body: Any) -> None:
    client.force_login(cast.locksmith)
    assert hand_in(client, body).status_code == 422


def test_only_locksmiths_hand_in(cast: Cast, client: Client) -> None:
    for name, person in cast.everybody.items():
        client.force_login(person)
        expected = 200 if name in {"locksmith", "stranger"} else 403
        assert client.get(reverse("field:hand-in")).status_code == expected
