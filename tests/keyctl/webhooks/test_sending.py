"""What reaches another program, and what becomes of a message where it does not, over TLS on loopback."""

import json
from collections.abc import Iterator
from datetime import datetime, timedelta
from typing import Any

import pytest
from django.utils import timezone

from keyctl.audit.models import Event, Link
from keyctl.audit.services import record
from keyctl.lib.errors import Conflict, Refused
from keyctl.notices.models import Notice
from keyctl.places.models import Site
from keyctl.places.services import add_building
from keyctl.webhooks import services
from keyctl.webhooks.models import Delivery, Endpoint, Try
from keyctl.webhooks.schedule import JITTER, PAUSES, pause_after
from keyctl.webhooks.services import sending
from keyctl.webhooks.services.resting import clear_old
from keyctl.webhooks.services.writing import write_due
from tests import factories
from tests.api.estate import told
from tests.cast import Cast
from tests.keyctl.webhooks.receiver import NAME, SECONDS, Receiver, allow, listening, make_listener, tries_of


@pytest.fixture(scope="module")
def listener(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Receiver]:
    with listening(tmp_path_factory.mktemp("receiver")) as receiver:
        yield receiver


@pytest.fixture
def receiver(listener: Receiver) -> Receiver:
    listener.heard.clear()
    listener.mended.clear()
    return listener


def happen(site: Site, verb: str = "door.changed", **facts: Any) -> int:
    """Something that history tells of; its number."""
    record(actor=None, verb=verb, sentence="changed Anna's door", site_id=site.pk, **facts)
    number: int = told().number
    return number


def send(later: timedelta = timedelta()) -> str:
    return sending.tell_others(timezone.now() + later)


def test_what_happens_is_told_signed_and_by_ids_alone(cast: Cast, receiver: Receiver) -> None:
    allow(cast.north, receiver.port)
    happen(cast.north)
    _, secret = make_listener(cast.administrator, cast.north, receiver.url())
    told()
    door = factories.make_door(cast.north, name="Vault of Anna")
    number = happen(cast.north, subjects=[door], detail={"name": "Anna"})
    happen(cast.south)
    happen(cast.north, "account.signed_in")
    happen(cast.north, "order.opened")
    assert send() == "Messages written: 1, taken: 1, not taken: 0, waiting: 0."
    [heard] = receiver.heard
    event = Event.objects.get(link__number=number)
    assert heard.verified(secret) == {
        "type": "door.changed",
        "timestamp": event.at.isoformat(),
        "data": {
            "number": number,
            "site": str(cast.north.pk),
            "subjects": [{"kind": "places.door", "id": str(door.pk)}],
        },
    }
    assert datetime.fromisoformat(heard.verified(secret)["timestamp"]) == event.at
    assert "Anna" not in str(heard)
    assert heard.headers["content-type"] == "application/json"
    assert heard.headers["host"] == f"{NAME}:{receiver.port}"
    assert send() == "Messages written: 0, taken: 0, not taken: 0, waiting: 0."
    assert len(receiver.heard) == 1


def test_a_service_of_the_product_is_heard(cast: Cast, receiver: Receiver) -> None:
    allow(cast.north, receiver.port)
    _, secret = make_listener(cast.administrator, cast.north, receiver.url(), "places")
    building = add_building(actor=cast.administrator, site=cast.north, code="N9", name="North nine")
    told()
    send()
    [heard] = receiver.heard
    assert heard.verified(secret)["type"] == "building.added"
    assert str(building.pk) in heard.body.decode()


# What the log says of each fault: the answer's code, and a part of the words.
FAULTS = {
    "broken": (500, "Traceback: [31mout of � luck xxx"),
    "endless": (500, "xxx"),
    "moved": (302, ""),
    "slow": (None, "does not answer as it should within 1.2 seconds"),
    "closed": (None, "does not answer as it should"),
    "dripping": (None, "does not answer as it should"),
}


def test_every_fault_stands_in_the_log_and_is_tried_again_and_holds_up_nobody(
    cast: Cast, receiver: Receiver
) -> None:
    """Six that fail in their ways, one with the certificate of another name, and one that is well, last."""
    other = "other.example.edu"
    allow(cast.north, receiver.port), allow(cast.north, receiver.port, other)
    wrong, _ = make_listener(
        cast.administrator, cast.north, f"https://{other}:{receiver.port}/good", name="aaa certificate"
    )
    made = {
        fault: make_listener(cast.administrator, cast.north, receiver.url(f"/{fault}")) for fault in FAULTS
    }
    well, _ = make_listener(cast.administrator, cast.north, receiver.url(), name="zzz well")
    told()
    numbers = [happen(cast.north), happen(cast.north)]
    began = timezone.now()
    assert send().startswith("Messages written: 16, taken: 2, not taken: ")
    # They were asked at the same time: seven waits in a row would take longer.
    assert timezone.now() - began < timedelta(seconds=SECONDS * 5)
    assert [json.loads(each.body)["data"]["number"] for each in receiver.at("/good")] == numbers
    assert _states(well) == ["delivered", "delivered"]
    for fault, (status, words) in FAULTS.items():
        first = tries_of(made[fault][0])[0]
        assert first[0] == status
        assert words in first[1]
        assert len(first[1]) <= Try.LONGEST_WORDS
        assert _states(made[fault][0]) == ["waiting", "waiting"]
    assert "certificate does not hold" in tries_of(wrong)[0][1]
    # Who answers is asked for each message; of who is not reached only once a round.
    assert len(receiver.at("/broken")) == 2
    assert len(receiver.at("/slow")) == 1
    _mend_all(receiver, made)
    for endpoint, secret in made.values():
        assert _states(endpoint) == ["delivered", "delivered"]
        heard = receiver.at(f"/{endpoint.name}")
        ids = [each.id for each in heard]
        assert set(ids) == {each.message_id for each in endpoint.deliveries.all()}
        assert len(ids) > len(set(ids)), "A message that failed comes again under its identifier."
        heard[-1].verified(secret)


def _states(endpoint: Endpoint) -> list[str]:
    return list(endpoint.deliveries.order_by("number").values_list("state", flat=True))


def _mend_all(receiver: Receiver, made: dict[str, Any]) -> None:
    receiver.mended |= {f"/{fault}" for fault in made}
    send(timedelta(minutes=10))


def test_a_worker_that_dies_between_sending_and_noting_sends_the_same_again(
    cast: Cast, receiver: Receiver, monkeypatch: pytest.MonkeyPatch
) -> None:
    allow(cast.north, receiver.port)
    endpoint, secret = make_listener(cast.administrator, cast.north, receiver.url())
    happen(cast.north), happen(cast.north)

    def die(*_: Any) -> None:
        raise KeyboardInterrupt

    with monkeypatch.context() as patched:
        patched.setattr(sending, "note", die)
        with pytest.raises(KeyboardInterrupt):
            send()
    assert _states(endpoint) == ["waiting", "waiting"]
    sent = len(receiver.heard)
    assert send().endswith("taken: 0, not taken: 0, waiting: 2."), "The claim lasts for a while."
    send(sending.CLAIM_LASTS + timedelta(seconds=1))
    assert _states(endpoint) == ["delivered", "delivered"]
    again = receiver.heard[sent:]
    assert {each.id for each in again} == {each.message_id for each in endpoint.deliveries.all()}
    assert {each.id for each in receiver.heard[:sent]} <= {each.id for each in again}
    assert again[0].verified(secret)


def test_two_workers_send_one_message_once(cast: Cast, receiver: Receiver) -> None:
    allow(cast.north, receiver.port)
    make_listener(cast.administrator, cast.north, receiver.url())
    happen(cast.north)
    now = timezone.now()
    write_due(now)
    mine = list(sending._batches(now))
    assert len(mine[0].deliveries) == 1
    assert list(sending._batches(now)) == []


def test_pauses_grow_to_a_day_and_then_it_is_given_up(cast: Cast, receiver: Receiver) -> None:
    allow(cast.north, receiver.port)
    endpoint, _ = make_listener(cast.administrator, cast.north, receiver.url("/broken"))
    happen(cast.north)
    now, whole = timezone.now(), timedelta()
    write_due(now)
    for nth in range(len(PAUSES) + 1):
        assert _states(endpoint) == ["waiting"]
        # Others of the endpoint arrive: only this message is not liked.
        Endpoint.objects.update(failing_since=None)
        sending.tell_others(now)
        delivery = endpoint.deliveries.get()
        assert delivery.attempts == nth + 1
        pause = delivery.next_at - now
        whole += pause if nth < len(PAUSES) else timedelta()
        now = max(now, delivery.next_at)
    assert _states(endpoint) == ["failed"]
    assert timedelta(hours=24) * (1 - JITTER) < whole < timedelta(hours=24) * (1 + JITTER)
    assert sum(PAUSES, timedelta()) > timedelta(hours=23)
    assert list(PAUSES) == sorted(PAUSES)
    drawn = {pause_after(3) for _ in range(50)}
    assert len(drawn) > 40
    assert all(PAUSES[2] * 0.8 <= each <= PAUSES[2] * 1.2 for each in drawn if each)


def test_who_is_not_reached_is_left_alone_whatever_waits(cast: Cast, receiver: Receiver) -> None:
    allow(cast.north, receiver.port)
    endpoint, _ = make_listener(cast.administrator, cast.north, receiver.url("/closed"))
    now = timezone.now()
    for nth in range(12):
        happen(cast.north)
        sending.tell_others(now + timedelta(seconds=15 * nth))
    # At once, after five seconds and after five minutes: in three minutes twice, not twelve times.
    assert len(receiver.heard) == 2
    receiver.mended.add("/closed")
    sending.tell_others(now + timedelta(hours=1))
    assert set(_states(endpoint)) == {"delivered"}
    assert len(_states(endpoint)) == 12


def test_an_endpoint_rests_after_a_day_of_failure_and_comes_back_with_all_that_happened(
    cast: Cast, receiver: Receiver
) -> None:
    allow(cast.north, receiver.port)
    cast.administrator.email = "admin@example.org"
    cast.administrator.save()
    endpoint, _ = make_listener(cast.administrator, cast.north, receiver.url("/broken"))
    happen(cast.north)
    send()
    endpoint.refresh_from_db()
    assert endpoint.is_on
    send(timedelta(hours=25))
    endpoint.refresh_from_db()
    assert (endpoint.state, endpoint.rested_at is not None) == ("resting", True)
    [notice] = Notice.objects.filter(kind="webhook-rests")
    assert notice.to == "admin@example.org"
    assert f"/webhooks/{endpoint.pk}/" in notice.body
    assert Event.objects.filter(verb="webhook.rested").count() == 1
    happen(cast.north)
    heard = len(receiver.heard)
    send(timedelta(hours=26))
    assert len(receiver.heard) == heard
    assert _states(endpoint) == ["waiting", "waiting"]
    with pytest.raises(Refused, match="is not on"):
        services.send_test(actor=cast.administrator, endpoint=endpoint)
    receiver.mended.add("/broken")
    services.turn_on(actor=cast.administrator, endpoint=endpoint)
    send(timedelta(seconds=1))
    assert _states(endpoint) == ["delivered", "delivered"]


def test_who_says_that_nobody_listens_any_more_is_asked_no_more(cast: Cast, receiver: Receiver) -> None:
    """410 Gone, as the specification has it."""
    allow(cast.north, receiver.port)
    endpoint, _ = make_listener(cast.administrator, cast.north, receiver.url("/gone"))
    happen(cast.north)
    send()
    endpoint.refresh_from_db()
    assert endpoint.state == "resting"
    assert tries_of(endpoint) == [(410, "")]


def test_nothing_goes_out_to_a_host_that_is_not_allowed_any_more(cast: Cast, receiver: Receiver) -> None:
    host = allow(cast.north, receiver.port)
    endpoint, _ = make_listener(cast.administrator, cast.north, receiver.url())
    services.forget_host(actor=cast.administrator, host=host)
    happen(cast.north)
    send()
    assert receiver.heard == []
    assert "is not on the list of hosts" in tries_of(endpoint)[0][1]
    allow(cast.north, receiver.port)
    send(timedelta(minutes=1))
    assert len(receiver.heard) == 1


def test_while_a_secret_is_changed_both_are_believed(cast: Cast, receiver: Receiver) -> None:
    allow(cast.north, receiver.port)
    endpoint, old = make_listener(cast.administrator, cast.north, receiver.url())
    new = services.rotate_secret(actor=cast.administrator, endpoint=endpoint)
    services.send_test(actor=cast.administrator, endpoint=endpoint)
    send()
    assert receiver.heard[0].verified(old) == receiver.heard[0].verified(new)
    endpoint.secrets.exclude(ends_at=None).update(
        ends_at=timezone.now() - timedelta(seconds=1), made_at=timezone.now() - timedelta(days=2)
    )
    services.send_test(actor=cast.administrator, endpoint=endpoint)
    send()
    receiver.heard[1].verified(new)
    with pytest.raises(Exception, match="No matching signature"):
        receiver.heard[1].verified(old)


def test_messages_go_out_while_the_vault_is_sealed(
    cast: Cast, receiver: Receiver, monkeypatch: pytest.MonkeyPatch, settings: Any
) -> None:
    allow(cast.north, receiver.port)
    monkeypatch.delenv("KEYCTL_VAULT_KEY")
    settings.VAULT_KEY_FILE = settings.VAULT_KEY_FILE.with_name("missing.key")
    _, secret = make_listener(cast.administrator, cast.north, receiver.url())
    happen(cast.north)
    send()
    receiver.heard[0].verified(secret)


def test_a_secret_that_does_not_open_says_what_to_do(cast: Cast, receiver: Receiver, settings: Any) -> None:
    allow(cast.north, receiver.port)
    endpoint, _ = make_listener(cast.administrator, cast.north, receiver.url())
    happen(cast.north)
    settings.SECRET_KEY, settings.SECRET_KEY_FALLBACKS = "another", []
    send()
    assert receiver.heard == []
    assert "sealed by another django.key" in tries_of(endpoint)[0][1]
    secret = services.rotate_secret(actor=cast.administrator, endpoint=endpoint)
    endpoint.secrets.exclude(ends_at=None).delete()
    send(timedelta(minutes=1))
    receiver.heard[0].verified(secret)


def test_what_was_sent_may_be_sent_again_under_the_same_identifier(cast: Cast, receiver: Receiver) -> None:
    allow(cast.north, receiver.port)
    endpoint, _ = make_listener(cast.administrator, cast.north, receiver.url())
    happen(cast.north)
    send()
    delivery = endpoint.deliveries.get()
    services.replay(actor=cast.administrator, delivery=delivery)
    with pytest.raises(Conflict, match="already"):
        services.replay(actor=cast.administrator, delivery=delivery)
    send()
    first, second = receiver.heard
    assert (first.id, first.body) == (second.id, second.body)
    assert len(tries_of(endpoint)) == 2


def test_many_entries_at_once_are_told_in_their_order(cast: Cast, receiver: Receiver) -> None:
    allow(cast.north, receiver.port)
    endpoint, _ = make_listener(cast.administrator, cast.north, receiver.url())
    numbers = [happen(cast.north) for _ in range(55)]
    assert send().startswith("Messages written: 55, taken: 50")
    send()
    assert [json.loads(each.body)["data"]["number"] for each in receiver.heard] == numbers
    assert endpoint.deliveries.count() == 55


def test_old_deliveries_are_thrown_away_and_waiting_ones_given_up(cast: Cast, receiver: Receiver) -> None:
    allow(cast.north, receiver.port)
    endpoint, _ = make_listener(cast.administrator, cast.north, receiver.url("/broken"))
    happen(cast.north), happen(cast.north)
    send()
    old, young = endpoint.deliveries.order_by("number")
    Delivery.objects.filter(pk=old.pk).update(written_at=timezone.now() - timedelta(days=100))
    assert clear_old(timezone.now()) == "Deliveries given up: 1, thrown away: 1."
    assert list(endpoint.deliveries.values_list("pk", flat=True)) == [young.pk]
    assert Link.objects.filter(number=old.number or 0).exists()
