"""Two versions side by side: against changes that the test makes itself, and its own count of them."""

import random
from xml.etree import ElementTree

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from keyctl.cores.models import Core, Keying, Turn
from keyctl.systems.models import KeySymbol, KeySystem
from keyctl.versions.branches import draw_branches
from keyctl.versions.comparing import compare
from keyctl.versions.models import SystemVersion
from keyctl.versions.picture import Key, Picture, PicturedCore
from keyctl.versions.services import take_version
from tests import factories
from tests.cast import Cast

SVG = "{http://www.w3.org/2000/svg}"


def key(symbol: str, parent: str = "A", digest: str = "", kind: str = "change") -> Key:
    return Key(symbol, kind, parent, 1 if parent else 0, digest or f"digest of {symbol}")


def core(tag: str, keyed: str, turns: dict[str, int], door: str = "", site: str = "here") -> PicturedCore:
    return PicturedCore(tag, site, door, f"House {door}" if door else "", frozenset(keyed.split()), turns)


def picture(keys: list[Key], cores: list[PicturedCore] | None = None) -> Picture:
    return Picture({each.symbol: each for each in keys}, {each.tag: each for each in cores or []})


def test_keys_are_added_gone_moved_and_cut_anew() -> None:
    top = key("A", "", kind="master")
    before = picture([top, key("A1"), key("A2"), key("A3"), key("A10")])
    after = picture([top, key("A1", parent="B"), key("A2", digest="new"), key("A10", digest="x"), key("A4")])
    found = compare(before, after, [])
    assert [change.symbol for change in found.added] == ["A4"]
    assert [change.symbol for change in found.gone] == ["A3"]
    assert [change.symbol for change in found.moved] == ["A1"]
    assert [change.symbol for change in found.cut_anew] == ["A2", "A10"]


def test_doors_are_gained_and_lost_by_what_turns_and_not_by_what_withdraws() -> None:
    keys = [key("A", "", kind="master"), key("A1"), key("CTR", "", kind="control")]
    before = picture(keys, [core("C1", "A1", {"A1": 1, "CTR": 2}, "1"), core("C2", "A1", {"A1": 1}, "2")])
    after = picture(keys, [core("C1", "A1", {"A1": 1, "CTR": 2}, "3"), core("C2", "A", {"A": 1}, "2")])
    found = compare(before, after, ["here"])
    told = {change.symbol: (change.gained, change.lost) for change in found.doors}
    assert told == {"A": (("House 2",), ()), "A1": (("House 3",), ("House 1", "House 2"))}
    assert [(change.tag, change.gone, change.new) for change in found.keyings] == [("C2", ("A1",), ("A",))]


def test_a_door_with_two_cores_is_lost_with_the_last() -> None:
    keys = [key("A1", "")]
    both = [core("C1", "A1", {"A1": 1}, "1"), core("C2", "A1", {"A1": 1}, "1")]
    assert compare(picture(keys, both), picture(keys, both[:1]), ["here"]).doors == []
    assert [change.lost for change in compare(picture(keys, both), picture(keys), ["here"]).doors] == [
        ("House 1",)
    ]


def test_cores_elsewhere_are_left_out() -> None:
    keys = [key("A1", "")]
    elsewhere = [core("C1", "A1", {"A1": 1}, "1", site="there")]
    found = compare(picture(keys), picture(keys, elsewhere), ["here"])
    assert found.is_empty
    assert not compare(picture(keys), picture(keys, elsewhere), ["there"]).is_empty


def drawn(rng: random.Random) -> Picture:
    symbols = [f"A{number}" for number in range(8) if rng.random() < 0.8]
    keys = [key(name, rng.choice("AB"), rng.choice("xy")) for name in symbols]
    cores = [
        core(
            f"C{number}",
            " ".join(name for name in symbols if rng.random() < 0.3),
            {name: rng.randint(1, 3) for name in symbols if rng.random() < 0.4},
            rng.choice(["", "1", "2", "3"]),
            rng.choice(["here", "there"]),
        )
        for number in range(6)
        if rng.random() < 0.8
    ]
    return picture(keys, cores)


def opened(given: Picture, symbol: str) -> set[str]:
    here = [each for each in given.cores.values() if each.site == "here" and each.door]
    return {each.place for each in here if each.turns.get(symbol, 0) in {1, 3}}


def test_random_pictures_differ_as_counted_key_by_key() -> None:
    rng = random.Random(4)
    for _ in range(2000):
        before, after = drawn(rng), drawn(rng)
        found = compare(before, after, ["here"])
        old, new = set(before.keys), set(after.keys)
        assert {change.symbol for change in found.added} == new - old
        assert {change.symbol for change in found.gone} == old - new
        both = [(before.keys[name], after.keys[name]) for name in old & new]
        assert {change.symbol for change in found.moved} == {
            a.symbol for a, b in both if a.parent != b.parent
        }
        assert {change.symbol for change in found.cut_anew} == {
            a.symbol for a, b in both if a.digest != b.digest
        }
        doors = {change.symbol: (set(change.gained), set(change.lost)) for change in found.doors}
        wanted = {
            name: (opened(after, name) - opened(before, name), opened(before, name) - opened(after, name))
            for name in old | new
            if opened(after, name) != opened(before, name)
        }
        assert doors == wanted


def test_bars_add_up_to_all_keys_of_a_branch() -> None:
    tree = [key("A", "", kind="master"), key("AA", "A", kind="master"), key("AB", "A", kind="master")]
    before = picture([*tree, *(key(f"AA{n}", "AA") for n in range(1, 6)), key("AB1", "AB")])
    after = picture(
        [
            *tree,
            *(key(f"AA{n}", "AA") for n in range(2, 6)),
            key("AA9", "AA"),
            key("AB1", "AB"),
            key("AA10", "AA"),
        ]
    )
    bars = draw_branches(before, after, compare(before, after, []))
    assert [(bar.branch, bar.words) for bar in bars.bars] == [("AA", "2 added, 1 gone; 5 the same")]
    assert bars.unchanged == 2


def prepared(cast: Cast) -> tuple[KeySystem, SystemVersion, Core]:
    system = factories.make_system(cast.north, cast.south, actor=cast.administrator)
    kept = factories.make_core(
        actor=cast.locksmith, site=cast.north, system=system, symbols=[factories.symbol(system, "AA1")]
    )
    factories.install(kept, factories.make_housing(cast.north))
    theirs = factories.make_core(
        actor=cast.stranger, site=cast.south, system=system, symbols=[factories.symbol(system, "AA1")]
    )
    factories.install(theirs, factories.make_housing(cast.south))
    before = take_version(actor=cast.locksmith, system=system, why="Before")
    for each in (kept, theirs):
        Keying.objects.filter(core=each).update(symbol=factories.symbol(system, "AB1"))
        Turn.objects.filter(core=each, symbol__symbol="AA1").update(symbol=factories.symbol(system, "AB1"))
    KeySymbol.objects.filter(system=system, symbol="AB2").update(fingerprint="of another bitting")
    return system, before, kept


def page(client: Client, version: SystemVersion, **query: str) -> str:
    return client.get(reverse("versions:compare", args=[version.pk]), query).content.decode()


def test_the_page_lists_what_differs_from_now_at_the_readers_sites(cast: Cast, client: Client) -> None:
    _, before, kept = prepared(cast)
    client.force_login(cast.auditor)
    assert ">AB2</th>" in page(client, before, list="cut-anew")
    keyings = page(client, before, list="keyings")
    theirs = Core.objects.get(site=cast.south)
    assert kept.tag in keyings
    assert theirs.tag not in keyings
    doors = page(client, before, list="doors")
    assert kept.housing
    assert kept.housing.door.number in doors
    client.force_login(cast.stranger)
    assert kept.tag not in page(client, before, list="keyings")
    assert theirs.tag in page(client, before, list="keyings")


def test_two_versions_are_compared_older_first_whichever_is_asked(cast: Cast, client: Client) -> None:
    system, before, _ = prepared(cast)
    after = take_version(actor=cast.locksmith, system=system, why="After")
    client.force_login(cast.auditor)
    for version, other in ((before, "2"), (after, "1")):
        assert "<h2>Before: version 1</h2>" in page(client, version, **{"with": other})
    assert "Nothing differs" in page(client, after)
    assert client.get(reverse("versions:compare", args=[before.pk]), {"with": "99"}).status_code == 404
    assert client.get(reverse("versions:compare", args=[before.pk]), {"with": "x"}).status_code == 404


def test_the_drawing_is_whole_and_says_its_figures(cast: Cast, client: Client) -> None:
    _, before, _ = prepared(cast)
    client.force_login(cast.auditor)
    text = page(client, before)
    drawing = text[text.index("<svg viewBox") : text.index("</svg>", text.index("<svg viewBox")) + 6]
    root = ElementTree.fromstring(drawing.replace("<svg", f'<svg xmlns="{SVG[1:-1]}"', 1))  # noqa: S314 (our own)
    assert "AB: 1 changed; 2 the same" in (root.findtext(f"{SVG}desc") or "")


def test_the_page_reads_a_bounded_number_of_rows(cast: Cast, client: Client) -> None:
    system, before, _ = prepared(cast)
    client.force_login(cast.auditor)
    address = reverse("versions:compare", args=[before.pk])

    def asked() -> int:
        with CaptureQueriesContext(connection) as queries:
            assert client.get(address).status_code == 200
        return len(queries)

    first = asked()
    for number in range(4):
        extra = factories.make_core(
            actor=cast.locksmith, site=cast.north, system=system, symbols=[factories.symbol(system, "AA2")]
        )
        factories.install(
            extra,
            factories.make_housing(cast.north, door=factories.make_door(cast.north, number=f"Z{number}")),
        )
    assert asked() == first <= 16


@pytest.mark.parametrize(("who", "status"), [("desk", 200), ("requester", 403)])
def test_the_staff_may_look(cast: Cast, client: Client, who: str, status: int) -> None:
    system, before, _ = prepared(cast)
    client.force_login(getattr(cast, who))
    assert client.get(reverse("versions:list", args=[system.pk])).status_code == status
    assert client.get(reverse("versions:compare", args=[before.pk])).status_code == status


def test_one_is_taken_from_the_page(cast: Cast, client: Client) -> None:
    system = factories.make_system(cast.north, actor=cast.administrator)
    client.force_login(cast.locksmith)
    address = reverse("versions:take", args=[system.pk])
    assert client.post(address, {"why": ""}).status_code == 422
    assert client.post(address, {"why": "Before the works"}).status_code == 302
    assert system.versions.get().why == "Before the works"
    listed = client.get(reverse("versions:list", args=[system.pk])).content.decode()
    assert "Before the works" in listed
    client.force_login(cast.auditor)
    assert "Take a version" not in client.get(reverse("versions:list", args=[system.pk])).content.decode()
    assert client.post(address, {"why": "x"}).status_code == 403


def test_it_is_linked_from_the_system(cast: Cast, client: Client) -> None:
    system = factories.make_system(cast.north, actor=cast.administrator)
    client.force_login(cast.auditor)
    text = client.get(reverse("systems:detail", args=[system.pk])).content.decode()
    assert reverse("versions:list", args=[system.pk]) in text
