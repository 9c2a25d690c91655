"""What keys would roughly take: at once, never less than it is, and without naming a key."""

from random import Random

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from keyctl.approvals import previewing
from keyctl.approvals.previewing import Rough, preview_of
from keyctl.approvals.proposals import proposals_for
from tests import factories
from tests.keyctl.approvals.estate import Estate, post


def figures(ways: tuple[Rough, ...]) -> list[tuple[int, int]]:
    return [(way.keys, way.extra) for way in ways]


def test_a_key_for_each_door_stands_beside_the_master_over_both(estate: Estate) -> None:
    one, two, master = estate.key("AA1"), estate.key("AA2"), estate.key("AA", is_master=True)
    doors = [estate.door(one, master), estate.door(two, master)]
    estate.door(master)
    preview = preview_of([door.pk for door in doors], estate.cast.north)
    assert figures(preview.ways) == [(2, 0), (1, 1)]
    assert preview.ways[1].symbols == (master.pk,)
    assert preview.closed == 0


def test_doors_without_a_key_are_counted(estate: Estate) -> None:
    doors = [estate.door(), factories.make_door(floor=estate.floor)]
    assert preview_of([door.pk for door in doors], estate.cast.north) == previewing.Preview((), 2)


def test_what_a_wide_key_opens_is_counted_and_not_read(
    estate: Estate, monkeypatch: pytest.MonkeyPatch
) -> None:
    one, master = estate.key("AA1"), estate.key("AA", is_master=True)
    doors = [estate.door(one, master), estate.door(master)]
    for _ in range(6):
        estate.door(master)
    monkeypatch.setattr(previewing, "MOST_READ", 4)
    preview = preview_of([door.pk for door in doors], estate.cast.north)
    assert figures(preview.ways) == [(1, 6)]


def test_it_is_never_better_than_what_is_proven(estate: Estate) -> None:
    rng = Random(5)
    for trial in range(12):
        keys = [estate.key(f"K{trial}-{n}") for n in range(5)]
        doors = [estate.door(*rng.sample(keys, rng.randint(1, 3))) for _ in range(9)]
        request = estate.ask(*rng.sample(doors, 4))
        asked = list(request.doors.values_list("pk", flat=True))
        best = {len(each.symbols): len(each.extra) for each in proposals_for(request)}
        for way in preview_of(asked, estate.cast.north).ways:
            assert any(number <= way.keys and extra <= way.extra for number, extra in best.items())


def test_three_queries_however_many_doors(estate: Estate) -> None:
    master = estate.key("AA", is_master=True)
    for count in (2, 9):
        doors = [estate.door(estate.key(f"A{count}{n}"), master) for n in range(count)]
        with CaptureQueriesContext(connection) as queries:
            preview_of([door.pk for door in doors], estate.cast.north)
        assert len(queries) == 3


def test_the_page_tells_it_as_doors_are_ticked_and_names_no_key(estate: Estate, client: Client) -> None:
    key = estate.key("SECRET-AA7")
    door = estate.door(key)
    estate.door(key)
    client.force_login(estate.cast.requester)
    response = client.post(
        reverse("approvals:ask-building", args=[estate.building.pk]),
        {"preview": "1", "doors": [str(door.pk)]},
        headers={"HX-Request": "true"},
    )
    text = response.content.decode()
    assert "<strong>1 key</strong>, opening at most 1 further door" in text
    assert "SECRET" not in text
    assert "<input" not in text


def test_without_scripts_the_whole_page_tells_it(estate: Estate, client: Client) -> None:
    door = estate.door(estate.key("AA1"))
    facts = {"preview": "1", "doors": [str(door.pk)], "reason": "My lab"}
    text = post(client, estate.cast.requester, "ask-building", estate.building.pk, **facts).content.decode()
    assert "opening no further door" in text
    assert "My lab" in text


def test_all_that_is_shown_is_chosen_at_once(estate: Estate, client: Client) -> None:
    doors = [factories.make_door(floor=estate.floor, number=n) for n in ("X-1", "X-2", "Z-3")]
    facts = {"all": "1", "q": "x-1, x-2"}
    text = post(client, estate.cast.requester, "ask-building", estate.building.pk, **facts).content.decode()
    assert [f'value="{door.pk}" checked' in text for door in doors] == [True, True, False]


def test_a_floor_narrows_what_is_found(estate: Estate, client: Client) -> None:
    upper = factories.make_floor(building=estate.building)
    below, above = factories.make_door(floor=estate.floor), factories.make_door(floor=upper)
    facts = {"find": "1", "floor": str(upper.pk)}
    text = post(client, estate.cast.requester, "ask-building", estate.building.pk, **facts).content.decode()
    assert str(above.pk) in text
    assert str(below.pk) not in text


def test_whoever_decides_sees_a_preview_at_once_and_the_proven_keys_after_it(
    estate: Estate, client: Client, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(previewing, "QUICK_TURNS", 0)
    one, master = estate.key("AA1"), estate.key("AA", is_master=True)
    request = estate.ask(estate.door(one, master))
    estate.door(master)
    url = reverse("approvals:detail", args=[request.pk])
    client.force_login(estate.cast.manager)
    at_once = client.get(url).content.decode()
    assert f'hx-get="{url}?proposals=1" hx-trigger="load"' in at_once
    assert f'href="{url}?proposals=1"' in at_once
    assert "opening nothing else" in at_once
    assert 'name="proposal"' not in at_once
    after = client.get(url + "?proposals=1", headers={"HX-Request": "true"}).content.decode()
    assert 'name="proposal"' in after
    assert "<html" not in after
    assert 'name="proposal"' in client.get(url + "?proposals=1").content.decode()


def test_whoever_only_asks_gets_no_proposals_that_way(estate: Estate, client: Client) -> None:
    request = estate.ask(estate.door(estate.key("SECRET-1")))
    client.force_login(estate.cast.requester)
    url = reverse("approvals:detail", args=[request.pk]) + "?proposals=1"
    for headers in ({}, {"HX-Request": "true"}):
        assert "SECRET-1" not in client.get(url, headers=headers).content.decode()
