"""Cores that stand in a door for a time: marked, told of, ended by a person or because they left."""

from datetime import UTC, date, datetime, timedelta

import pytest
from django.core.exceptions import PermissionDenied
from django.http import Http404
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from keyctl.audit.selectors import history_of
from keyctl.cores.models import Core
from keyctl.cores.services import exchange_core
from keyctl.interim.models import Interim
from keyctl.interim.selectors import interim_of, standing_interims
from keyctl.interim.services import LEFT, change_day, come_round, let_stay, mark_interim
from keyctl.lib.errors import Conflict, Refused
from keyctl.notices.models import Notice
from tests.cast import Cast
from tests.keyctl.orders.workshop import Workshop, set_up

SOON = timezone.localdate() + timedelta(days=30)


@pytest.fixture
def shop(cast: Cast) -> Workshop:
    return set_up(cast)


@pytest.fixture
def core(shop: Workshop) -> Core:
    return shop.furnished()[1]


@pytest.fixture
def mark(shop: Workshop, core: Core) -> Interim:
    return mark_interim(actor=shop.smith, core=core, until=SOON, why="New lift")


def swap_out(shop: Workshop, core: Core) -> Core:
    """Another core goes into its door, as a swap does it."""
    core.refresh_from_db()
    assert core.housing is not None
    incoming = shop.core()
    exchange_core(
        actor=shop.smith,
        housing=core.housing,
        core_in=incoming,
        core_in_version=incoming.version,
        core_out_id=core.pk,
        put_at="bench",
        order=incoming,
    )
    return incoming


def at(day: date) -> datetime:
    return datetime(day.year, day.month, day.day, 9, tzinfo=UTC)


def test_the_mark_stands_on_the_list_and_in_history(shop: Workshop, core: Core, mark: Interim) -> None:
    assert list(standing_interims(shop.cast.manager)) == [mark]
    assert interim_of(core) == mark
    event = history_of(core)[0]
    assert event.verb == "interim.marked"
    assert event.detail == {"until": SOON.isoformat(), "why": "New lift"}


def test_it_ends_when_the_core_leaves(shop: Workshop, core: Core, mark: Interim) -> None:
    swap_out(shop, core)
    assert list(standing_interims(shop.smith)) == []
    assert "core left: 1." in come_round(timezone.now())
    mark.refresh_from_db()
    assert (mark.outcome, mark.ended_by, mark.version) == (str(LEFT), None, 2)


def test_it_ends_when_the_core_is_in_another_door(shop: Workshop, core: Core, mark: Interim) -> None:
    swap_out(shop, core)
    elsewhere = shop.housing()
    core.refresh_from_db()
    exchange_core(
        actor=shop.smith,
        housing=elsewhere,
        core_in=core,
        core_in_version=core.version,
        core_out_id=None,
        put_at="bench",
        order=core,
    )
    assert interim_of(core) is None
    core.refresh_from_db()
    again = mark_interim(actor=shop.smith, core=core, until=SOON, why="Second lift")
    mark.refresh_from_db()
    assert mark.outcome == str(LEFT)
    assert list(standing_interims(shop.smith)) == [again]


def test_a_core_has_one_day(shop: Workshop, core: Core, mark: Interim) -> None:
    with pytest.raises(Conflict, match="already marked to leave"):
        mark_interim(actor=shop.smith, core=core, until=SOON, why="Once more")


def test_the_day_is_moved(shop: Workshop, mark: Interim) -> None:
    later = SOON + timedelta(days=60)
    change_day(actor=shop.smith, interim=mark, version=1, until=later, why="New lift, late")
    mark.refresh_from_db()
    assert (mark.until, mark.why, mark.version) == (later, "New lift, late", 2)
    with pytest.raises(Conflict, match="Somebody changed the day"):
        change_day(actor=shop.smith, interim=mark, version=1, until=SOON, why="New lift")


def test_it_may_stay_for_a_reason(shop: Workshop, core: Core, mark: Interim) -> None:
    with pytest.raises(Refused, match="Say why it may stay"):
        let_stay(actor=shop.smith, interim=mark, version=1, outcome=" ")
    let_stay(actor=shop.smith, interim=mark, version=1, outcome="The tenant keeps it.")
    assert interim_of(core) is None
    with pytest.raises(Conflict, match="The tenant keeps it"):
        let_stay(actor=shop.smith, interim=mark, version=2, outcome="Twice")


def test_locksmiths_are_told_before_and_after_and_once_a_day(shop: Workshop, mark: Interim) -> None:
    told = []
    for days in range(-10, 11):
        for _ in range(2):
            before = Notice.objects.count()
            come_round(at(SOON + timedelta(days=days)))
            if Notice.objects.count() > before:
                told.append(days)
    assert told == [-7, -1, 1, 7]


def test_who_may_not_sign_in_any_more_is_not_told(shop: Workshop, mark: Interim) -> None:
    shop.smith.is_active = False
    shop.smith.save()
    come_round(at(SOON))
    assert not Notice.objects.exists()


@pytest.mark.parametrize(
    ("change", "sentence"),
    [
        ({"until": timezone.localdate() - timedelta(days=1)}, "is past"),
        ({"why": "  "}, "Say what the core is there for"),
    ],
)
def test_what_cannot_be_marked(shop: Workshop, core: Core, change: dict[str, str], sentence: str) -> None:
    facts = {"until": SOON, "why": "New lift"} | change
    with pytest.raises(Refused, match=sentence):
        mark_interim(actor=shop.smith, core=core, **facts)  # type: ignore[arg-type]


def test_a_core_in_no_door_is_not_marked(shop: Workshop) -> None:
    with pytest.raises(Refused, match="Mark it when it is in the door"):
        mark_interim(actor=shop.smith, core=shop.core(), until=SOON, why="New lift")


@pytest.mark.parametrize("name", ["desk", "manager", "officer", "auditor", "requester", "administrator"])
def test_only_locksmiths_mark(shop: Workshop, core: Core, name: str) -> None:
    with pytest.raises(PermissionDenied):
        mark_interim(actor=getattr(shop.cast, name), core=core, until=SOON, why="New lift")


def test_a_stranger_finds_no_core_to_mark(shop: Workshop, core: Core) -> None:
    with pytest.raises(Http404):
        mark_interim(actor=shop.cast.stranger, core=core, until=SOON, why="New lift")


def test_the_pages_lead_from_the_core_to_the_end(client: Client, shop: Workshop, core: Core) -> None:
    client.force_login(shop.smith)
    page = client.get(reverse("cores:detail", args=[core.pk])).content.decode()
    assert reverse("interim:mark", args=[core.pk]) in page
    client.post(reverse("interim:mark", args=[core.pk]), {"until": SOON.isoformat(), "why": "New lift"})
    mark = Interim.objects.get()
    assert "New lift" in client.get(reverse("cores:detail", args=[core.pk])).content.decode()
    assert str(core) in client.get(reverse("interim:list")).content.decode()
    answer = client.post(reverse("interim:stay", args=[mark.pk]), {"version": 1, "outcome": ""})
    assert answer.status_code == 422
    client.post(reverse("interim:stay", args=[mark.pk]), {"version": 1, "outcome": "It is theirs now."})
    assert "No temporary core is in a door" in client.get(reverse("interim:list")).content.decode()


def test_a_mark_in_the_past_is_told_on_the_page(client: Client, shop: Workshop, core: Core) -> None:
    client.force_login(shop.smith)
    answer = client.post(reverse("interim:mark", args=[core.pk]), {"until": "2020-01-31", "why": "New lift"})
    assert answer.status_code == 422
    assert "31 Jan 2020 is past" in answer.content.decode()
