"""Who can open what by which key, as a picture: against a walk over every row, by one person's view."""

from xml.etree import ElementTree

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext

from keyctl.accounts.models import User
from keyctl.cores.models import Core, Turn
from keyctl.cores.selectors import openers_of
from keyctl.keys import reach as reach_module
from keyctl.keys.models import Holder, KeyCopy
from keyctl.keys.reach import reach_of
from keyctl.keys.reachpicture import ReachPicture, door_picture, key_picture
from keyctl.places.models import Door
from keyctl.systems.models import KeySymbol
from tests.cast import Cast
from tests.factories import (
    install,
    make_cabinet,
    make_copy,
    make_core,
    make_door,
    make_holder,
    make_housing,
    make_line,
    make_system,
    symbol,
)


@pytest.fixture
def core(cast: Cast) -> Core:
    system = make_system(cast.north, actor=cast.administrator)
    made = make_core(actor=cast.locksmith, site=cast.north, system=system, symbols=[symbol(system, "AA1")])
    return install(made, make_housing(door=make_door(cast.north, name="Store")))


def door_of(core: Core) -> Door:
    assert core.housing
    return core.housing.door


def key_of(core: Core, name: str = "AA1") -> KeySymbol:
    assert core.system
    return symbol(core.system, name)


def given(copy: KeyCopy, holder: Holder, by: User) -> KeyCopy:
    copy.custody = make_line(copy, holder, by=by)
    copy.state, copy.holder, copy.cabinet = KeyCopy.State.HELD, holder, None
    copy.save()
    return copy


def lost(copy: KeyCopy) -> KeyCopy:
    copy.state, copy.cabinet = KeyCopy.State.LOST, None
    copy.save()
    return copy


def pictured(actor: User, core: Core) -> ReachPicture:
    found = door_picture(actor, door_of(core), openers_of(actor, door_of(core)))
    assert found
    return found


def lines(picture: ReachPicture) -> set[tuple[str, str]]:
    return {(curve.edge.source, curve.edge.target) for curve in picture.layers.curves}


@pytest.fixture
def keys_about(cast: Cast, core: Core) -> list[KeyCopy]:
    """Two with one holder, one in a cabinet, one lost; and one of a key that does nothing here."""
    cabinet, holder = make_cabinet(cast.north), make_holder(cast.north, name="Rosa Invented")
    mine, master = key_of(core), key_of(core, "AA")
    copies = [make_copy(mine, cabinet) for _ in range(4)]
    given(copies[0], holder, cast.desk)
    given(copies[1], holder, cast.desk)
    lost(copies[2])
    make_copy(key_of(core, "AB2"), cabinet)
    return [*copies, make_copy(master, make_cabinet(cast.north))]


def test_every_line_is_a_turn_or_a_copy_and_every_one_is_drawn(
    cast: Cast, core: Core, keys_about: list[KeyCopy]
) -> None:
    drawn = lines(pictured(cast.officer, core))
    turns = {(str(turn.core_id), str(turn.symbol_id)) for turn in Turn.objects.filter(core=core)}
    turning = {pair[1] for pair in turns}
    copies = {
        (str(copy.symbol_id), str(copy.holder_id or copy.cabinet_id or "lost"))
        for copy in KeyCopy.objects.exclude(state="destroyed")
        if str(copy.symbol_id) in turning
    }
    assert drawn == {(str(door_of(core).pk), str(core.pk)), *turns, *copies}
    assert turns
    assert len(copies) == 4


def test_the_table_says_the_same_as_the_lines(cast: Cast, core: Core, keys_about: list[KeyCopy]) -> None:
    picture = pictured(cast.officer, core)
    told = {(str(row.opener.core.pk), str(row.opener.symbol.pk)) for row in picture.rows}
    told |= {(str(row.opener.symbol.pk), each.end.key) for row in picture.rows for each in row.had}
    assert told | {(str(door_of(core).pk), str(core.pk))} == lines(picture)
    counts = {each.end.name: each.count for row in picture.rows for each in row.had}
    assert counts["Rosa Invented"] == 2
    assert counts["Nobody knows where"] == 1


@pytest.mark.parametrize("name", ["manager", "stranger"])
def test_who_may_not_look_at_keys_sees_no_holder(
    client: Client, cast: Cast, core: Core, keys_about: list[KeyCopy], name: str
) -> None:
    actor = getattr(cast, name)
    reach = reach_of(actor, [key_of(core).pk])
    assert (reach.ends, reach.had, reach.beyond, reach.further) == ((), (), {}, 0)
    client.force_login(actor)
    for address in (f"/estate/doors/{door_of(core).pk}/", f"/systems/keys/{key_of(core).pk}/"):
        assert "Rosa Invented" not in client.get(address).content.decode()


@pytest.mark.parametrize("name", ["desk", "officer", "locksmith", "auditor"])
def test_who_may_look_at_keys_sees_them(
    client: Client, cast: Cast, core: Core, keys_about: list[KeyCopy], name: str
) -> None:
    client.force_login(getattr(cast, name))
    for address in (f"/estate/doors/{door_of(core).pk}/", f"/systems/keys/{key_of(core).pk}/"):
        text = client.get(address).content.decode()
        svg = text[text.index('<svg class="reach"') :].partition("</svg>")[0] + "</svg>"
        root = ElementTree.fromstring(svg)  # noqa: S314 (our own page)
        words = {"".join(node.itertext()) for node in root.iter("text")}
        assert {"Rosa Invented", str(core), "AA1", "Nobody knows where"} <= words
        assert all(link.get("href", "").startswith(("/", "#")) for link in root.iter("a"))
        assert not any(node.get("style") for node in root.iter())


def test_the_key_page_shows_the_way_from_holders_to_doors(
    cast: Cast, core: Core, keys_about: list[KeyCopy]
) -> None:
    picture = key_picture(cast.officer, key_of(core), 1)
    assert picture
    ends = {str(copy.holder_id or copy.cabinet_id or "lost") for copy in keys_about[:4]}
    key, door = str(key_of(core).pk), str(door_of(core).pk)
    assert lines(picture) == {*((end, key) for end in ends), (key, str(core.pk)), (str(core.pk), door)}


def test_many_holders_are_counted_beyond_what_a_picture_holds(
    cast: Cast, core: Core, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(reach_module, "MOST", 4)
    cabinet = make_cabinet(cast.north)
    for number in range(7):
        given(make_copy(key_of(core), cabinet), make_holder(cast.north, name=f"Person {number}"), cast.desk)
    lost(make_copy(key_of(core), cabinet))
    reach = reach_of(cast.officer, [key_of(core).pk])
    assert len(reach.ends) == 4
    assert reach.ends[0].key == "lost"
    assert reach.further == 4
    assert reach.beyond == {key_of(core).pk: 4}
    picture = pictured(cast.officer, core)
    assert picture.further_ends == 4
    assert [each.node.words for each in picture.layers.nodes if each.node.is_rest] == ["and 4 more"]
    assert (str(key_of(core).pk), "rest3") in lines(picture)


def test_the_number_of_queries_does_not_grow(cast: Cast, core: Core) -> None:
    openers = openers_of(cast.officer, door_of(core))

    def asked() -> int:
        with CaptureQueriesContext(connection) as queries:
            assert door_picture(cast.officer, door_of(core), openers)
            assert key_picture(cast.officer, key_of(core), 1)
        return len(queries)

    assert core.system
    cabinet = make_cabinet(cast.north)
    make_copy(key_of(core), cabinet)
    before = asked()
    for number in range(8):
        given(make_copy(key_of(core), cabinet), make_holder(cast.north, name=f"P{number}"), cast.desk)
        extra = make_core(actor=cast.locksmith, site=cast.north, system=core.system, symbols=[key_of(core)])
        install(extra, make_housing(door=make_door(cast.north)))
    assert asked() == before


def test_a_door_that_no_key_opens_has_no_picture(cast: Cast) -> None:
    assert door_picture(cast.officer, make_door(cast.north), []) is None
