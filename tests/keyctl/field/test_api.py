"""What the app on a tablet asks over HTTP: pack, state, events; and how it is refused."""

import json
from typing import Any

import pytest
from django.test import Client
from django.utils import timezone
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from keyctl.cores.models import Core
from keyctl.field import services
from keyctl.field.models import DeviceUser, FieldEvent
from keyctl.field.views.api import COOKIE
from keyctl.orders import services as orders
from keyctl.places.roles import Role
from tests import factories
from tests.cast import Cast
from tests.keyctl.field.fieldroom import House, Tablet
from tests.keyctl.field.test_malformed import JSON

URL = "/field/events/"
AROUND = ("device", "sent_at", "events", "unsent")


def envelope(tablet: Tablet, *events: Any, **facts: Any) -> dict[str, Any]:
    device = str(tablet.device.pk) if tablet.device else None
    return {"device": device, "sent_at": timezone.now().isoformat(), "events": list(events)} | facts


def post(client: Client, body: Any, **facts: Any) -> Any:
    text = body if isinstance(body, str | bytes) else json.dumps(body)
    return client.post(URL, text, content_type="application/json", **facts)


@pytest.fixture
def own(cast: Cast, client: Client, tablet: Tablet) -> Client:
    """The browser on the tablet, with its proof."""
    registered = services.register_device(actor=cast.locksmith, site=cast.north, name="Tablet 7")
    tablet.device = registered.device
    client.force_login(cast.locksmith)
    client.cookies[COOKIE] = registered.proof
    return client


def test_a_tablet_sends_and_is_answered_event_by_event(house: House, tablet: Tablet, own: Client) -> None:
    good, bad = tablet.put(house.spare, "case"), {"event_id": "no uuid"}
    answer = post(own, envelope(tablet, good, bad, unsent=3)).json()

    assert [(each["event_id"], each["outcome"]) for each in answer["answers"]] == [
        (good["event_id"], "applied"),
        (None, "rejected"),
    ]
    event = FieldEvent.objects.get()
    assert (event.via, event.device) == ("tablet", tablet.device)
    assert event.skew_seconds is not None
    assert abs(event.skew_seconds) < 60
    assert tablet.device
    tablet.device.refresh_from_db()
    assert (tablet.device.unsent, tablet.device.last_sequence) == (3, good["sequence"])


def test_an_ended_sign_in_is_told_and_nothing_is_stored(house: House, tablet: Tablet, own: Client) -> None:
    own.logout()
    answer = post(own, envelope(tablet, tablet.put(house.spare)))
    assert (answer.status_code, answer.headers["Content-Type"]) == (401, "application/problem+json")
    assert not FieldEvent.objects.exists()
    assert own.get("/field/pack/").status_code == 401
    assert own.get("/field/state/").json()["signed_in"] is False


def test_a_forged_request_is_refused(cast: Cast, house: House, tablet: Tablet) -> None:
    careful = Client(enforce_csrf_checks=True)
    careful.force_login(cast.locksmith)
    body = envelope(tablet, tablet.put(house.spare))
    assert post(careful, body).status_code == 403
    assert not FieldEvent.objects.exists()
    token = careful.get("/field/state/").json()["csrf"]
    assert post(careful, body, headers={"X-CSRFToken": token}).status_code == 200


def test_another_tablets_envelope_is_taken_as_handed_in(house: House, tablet: Tablet, own: Client) -> None:
    other = Tablet(tablet.person, None)
    assert post(own, envelope(other, other.put(house.spare))).status_code == 200
    event = FieldEvent.objects.get()
    assert (event.via, event.device) == ("file", None)


@pytest.mark.parametrize(
    ("body", "status"),
    [
        ("no json", 400),
        (b"\xff", 400),
        ("[" * 100_000, 400),
        ("1" * 10_000, 400),
        ('{"sent_at": NaN}', 400),
        ("[]", 400),
        ("null", 400),
        ({"device": 7, "sent_at": "2030-01-01T00:00:00Z", "events": []}, 400),
        ({"device": None, "sent_at": "2030-01-01T00:00:00", "events": []}, 400),
        ({"device": None, "sent_at": "0001-01-01T00:00:00+23:59", "events": []}, 400),
        ({"device": None, "sent_at": "2030-01-01T00:00:00Z", "events": [1] * 201}, 400),
        (" " * (1024 * 1024 + 1), 413),
    ],
)
def test_what_is_no_envelope_is_refused_as_a_whole(own: Client, body: Any, status: int) -> None:
    answer = post(own, body)
    assert (answer.status_code, answer.json()["status"]) == (status, status)
    assert not FieldEvent.objects.exists()


def test_another_content_type_is_refused(own: Client) -> None:
    assert own.post(URL, {"device": ""}).status_code == 415


def test_the_pack_holds_what_is_at_the_doors_and_no_bitting(
    cast: Cast, house: House, tablet: Tablet, own: Client
) -> None:
    order = orders.open_swap_order(
        actor=cast.locksmith, site=cast.north, title="Front door", housings=[house.housing]
    )
    pack = own.get("/field/pack/")
    told = pack.json()
    assert pack.headers["Cache-Control"] == "no-store"
    [sent], [door] = told["orders"], told["doors"]
    assert (sent["number"], [line["housing"] for line in sent["lines"]]) == (
        order.number,
        [str(house.housing.pk)],
    )
    assert door["housings"][0]["core"] == house.inside.tag
    cores = {core["tag"]: core for core in told["cores"]}
    assert set(cores) == {house.inside.tag, house.spare.tag}
    assert cores[house.spare.tag] == {
        "tag": house.spare.tag,
        "construction": house.spare.construction,
        "place": "shelf",
        "version": house.spare.version,
        "is_pinned": True,
        "is_disputed": False,
        "where": "on the shelf",
    }
    assert told["device"]["next_sequence"] == 1
    assert "pinning" not in pack.content.decode()
    assert "bitting" not in pack.content.decode()


def test_who_fetches_a_pack_is_known_on_the_tablet(cast: Cast, tablet: Tablet, own: Client) -> None:
    colleague = factories.make_user("colleague", site=cast.north, role=Role.LOCKSMITH)
    own.force_login(colleague)
    for _ in range(2):
        assert own.get("/field/pack/").status_code == 200
    known = DeviceUser.objects.filter(device=tablet.device)
    assert {row.user for row in known} == {cast.locksmith, colleague}


def test_a_look_up_finds_a_door_and_a_core_by_what_is_scanned(house: House, own: Client) -> None:
    found = own.get("/field/lookup/", {"code": f"HTTPS://KEYS.EXAMPLE/Q/{house.housing.door.tag}"}).json()
    assert [door["tag"] for door in found["doors"]] == [house.housing.door.tag]
    assert [core["tag"] for core in found["cores"]] == [house.inside.tag]
    assert own.get("/field/lookup/", {"code": house.spare.tag}).json()["cores"][0]["place"] == "shelf"
    assert own.get("/field/lookup/", {"code": "\x00"}).json() == {"doors": [], "cores": []}


def test_who_is_no_locksmith_gets_no_pack_and_sends_nothing(
    cast: Cast, house: House, tablet: Tablet, client: Client
) -> None:
    for person in (cast.requester, cast.desk, cast.auditor):
        client.force_login(person)
        assert client.get("/field/pack/").status_code == 403
        assert client.get("/field/lookup/", {"code": house.spare.tag}).status_code == 403
        assert post(client, envelope(Tablet(person), tablet.put(house.spare))).status_code == 403


def test_a_stranger_is_told_nothing_of_another_site(cast: Cast, house: House, client: Client) -> None:
    client.force_login(cast.stranger)
    stranger = Tablet(cast.stranger)
    told = client.get("/field/pack/").json()
    assert (told["orders"], told["doors"], told["cores"]) == ([], [], [])
    assert client.get("/field/lookup/", {"code": house.spare.tag}).json() == {"doors": [], "cores": []}

    known = stranger.swapped(house.housing, house.spare, house.inside)
    unknown = stranger.event("put", core="BCDFBCDFBCDF", core_version=1, place="shelf")
    first, second = post(client, envelope(stranger, known, unknown)).json()["answers"]

    assert (first["outcome"], first["case"]) == ("accepted_with_conflict", None)
    assert first["reason"] == second["reason"], "what is another's is not told from what is unknown"
    assert Core.objects.get(pk=house.spare.pk).is_disputed


@settings(max_examples=25, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(body=JSON | st.fixed_dictionaries({}, optional=dict.fromkeys(AROUND, JSON)))
def test_whatever_json_comes_is_answered(own: Client, body: Any) -> None:
    answer = post(own, json.dumps(body))
    assert answer.status_code in {200, 400}
    told = answer.json()
    assert "answers" in told if answer.status_code == 200 else told["detail"]
