"""Extending a system: the next keys below a master, their consequences first, then made."""

import re
from itertools import pairwise
from typing import Any

import pytest
from django.core.exceptions import PermissionDenied
from django.http import Http404
from django.test import Client

from keyctl import engine
from keyctl.cores.models import Core, Turn
from keyctl.lib.errors import Conflict, Refused
from keyctl.systems.models import KeySymbol, KeySystem
from keyctl.systems.services import (
    NewKey,
    Plan,
    add_symbols,
    bitting_of,
    design_of,
    extend_system,
    open_system,
    plan_extension,
)
from keyctl.vault import services as vault
from tests import factories
from tests.cast import Cast

CHANGE, MASTER = KeySymbol.Kind.CHANGE, KeySymbol.Kind.MASTER
FOUR_LEVELS = (((1, 2), 2), ((3, 4), 2), ((5, 6, 7), 3))


@pytest.fixture
def system(cast: Cast) -> KeySystem:
    return factories.make_system(cast.north, actor=cast.administrator, levels=FOUR_LEVELS)


def planned(
    cast: Cast, parent: KeySymbol, kind: str = CHANGE, policy: str = "sequence", count: int = 1
) -> Plan:
    return plan_extension(actor=cast.locksmith, parent=parent, kind=kind, policy=policy, count=count)


def extended(
    cast: Cast, parent: KeySymbol, kind: str = CHANGE, policy: str = "sequence", count: int = 1
) -> list[KeySymbol]:
    plan = planned(cast, parent, kind, policy, count)
    facts = {"kind": kind, "policy": policy, "count": count}
    return extend_system(actor=cast.locksmith, parent=parent, seen=plan.mark, **facts)  # type: ignore[arg-type]


def named(system: KeySystem, name: str) -> KeySymbol:
    return system.symbols.select_related("system").get(symbol=name)


def test_the_next_in_sequence_is_the_next_of_the_progression(cast: Cast, system: KeySystem) -> None:
    made = extended(cast, named(system, "AA"), count=2)
    assert [(key.symbol, key.ordinal, key.level, key.origin) for key in made] == [
        ("AA4", 3, 3, "extended"),
        ("AA5", 4, 3, "extended"),
    ]
    tree = engine.Design.of(system.format_id, _parameters(system)).tree
    assert [bitting_of(key) for key in made] == [tree.bitting((0, 0, n)).text for n in (3, 4)]


def _parameters(system: KeySystem) -> dict[str, object]:
    return design_of(system).parameters


def test_a_new_master_brings_room_of_its_own(cast: Cast, system: KeySystem) -> None:
    (master,) = extended(cast, named(system, "A"), MASTER)
    assert (master.symbol, master.kind, master.level, master.room) == ("AC", MASTER, 2, 64)
    (change,) = extended(cast, master)
    assert change.symbol == "AC1"


def test_a_change_right_below_a_higher_key_takes_its_name(cast: Cast, system: KeySystem) -> None:
    """Keynotes 2017-07 p.46: A1, GGM1."""
    (change,) = extended(cast, named(system, "A"))
    assert (change.symbol, change.level, change.ordinal) == ("A1", 2, 0)


def test_new_keys_turn_no_core_and_only_their_masters_turn_theirs(cast: Cast, system: KeySystem) -> None:
    """From the pins of real cores, by the turns that the engine finds."""
    old = [
        factories.make_core(actor=cast.locksmith, site=cast.north, system=system, symbols=[key])
        for key in system.symbols.filter(kind=CHANGE)
    ]
    for policy in engine.POLICIES:
        made = extended(cast, named(system, "AB"), policy=policy, count=3)
        made += extended(cast, named(system, "A"), policy=policy)
        assert not Turn.objects.filter(core__in=old, symbol__in=made).exists()
        for key in made:
            core = factories.make_core(actor=cast.locksmith, site=cast.north, system=system, symbols=[key])
            turning = set(core.turns.filter(operates=True).values_list("symbol__symbol", flat=True))
            assert turning == {key.symbol, "A", "GGM"} | ({"AB"} if key.level == 3 else set())
            old.append(core)


def test_the_plan_tells_the_consequences_as_they_come_true(cast: Cast, system: KeySystem) -> None:
    for key in system.symbols.filter(kind=CHANGE):
        factories.make_core(actor=cast.locksmith, site=cast.north, system=system, symbols=[key])
    plan = planned(cast, named(system, "BA"), policy="incidental", count=2)
    for key in extended(cast, named(system, "BA"), policy="incidental", count=2):
        factories.make_core(actor=cast.locksmith, site=cast.north, system=system, symbols=[key])
    after = planned(cast, named(system, "BA"))
    assert plan.before is not None
    assert after.before == plan.after == plan.before + plan.added
    assert unplanned(system) == after.before


def unplanned(system: KeySystem) -> int:
    """Every bitting of every core, listed one by one."""
    accepted: set[tuple[int, ...]] = set()
    for core in Core.objects.filter(system=system):
        found: list[tuple[int, ...]] = [()]
        for column in engine.operating_cuts(_pins(core)):
            found = [(*cuts, cut) for cuts in found for cut in column]
        accepted |= set(found)
    keys = {tuple(map(int, bitting_of(key))) for key in system.symbols.exclude(kind="control")}
    return len(accepted - keys)


def _pins(core: Core) -> engine.Pinning:
    return engine.restore(core.format_id, vault.unseal(core, "pinning"))


def test_a_plan_shows_no_bitting_and_makes_nothing(cast: Cast, system: KeySystem) -> None:
    before = KeySymbol.objects.count()
    plan = planned(cast, named(system, "AA"), count=3)
    assert not any(key.entry.bitting in repr(plan) for key in plan.keys)
    assert KeySymbol.objects.count() == before


def test_a_plan_that_somebody_overtook_is_looked_at_again(cast: Cast, system: KeySystem) -> None:
    plan = planned(cast, named(system, "AA"))
    extended(cast, named(system, "AA"))
    with pytest.raises(Conflict, match="have changed since you looked"):
        extend_system(
            actor=cast.locksmith,
            parent=named(system, "AA"),
            kind=CHANGE,
            policy="sequence",
            count=1,
            seen=plan.mark,
        )


def test_when_nothing_is_left_it_says_why(cast: Cast) -> None:
    full = factories.make_system(cast.north, actor=cast.administrator, levels=(((1, 2), 2), ((3,), 4)))
    with pytest.raises(Refused) as refused:
        planned(cast, named(full, "AA"))
    assert refused.value.reasons == ("Nothing is left below this key. Of 4 bittings 4 already are a key's.",)


@pytest.mark.parametrize(
    ("name", "asked", "words"),
    [
        ("AA1", {}, "is no master"),
        ("CTR", {}, "is no master"),
        ("AA", {"kind": MASTER}, "only change keys can be made there"),
        ("AA", {"count": 0}, "Ask for 1 to 50"),
        ("AA", {"count": 51}, "Ask for 1 to 50"),
    ],
)
def test_what_cannot_be_extended_is_refused(
    cast: Cast, system: KeySystem, name: str, asked: dict[str, Any], words: str
) -> None:
    with pytest.raises(Refused, match=words):
        planned(cast, named(system, name), **asked)


def test_keys_that_follow_no_progression_are_extended_where_their_sisters_differ(cast: Cast) -> None:
    old = open_system(
        actor=cast.locksmith,
        sites=[cast.north],
        code="OLD",
        name="Old",
        format_id="fixed-6",
        keyway="K",
        levels=2,
    )
    entries = [
        NewKey("AA", MASTER, "143254", None, 0, 0),
        NewKey("1AA", CHANGE, "143250", "AA", 1, 0),
        NewKey("2AA", CHANGE, "143236", "AA", 1, 1),
    ]
    add_symbols(actor=cast.locksmith, system=old, entries=entries, origin=KeySymbol.Origin.BROUGHT_IN)
    made = extended(cast, named(old, "AA"), policy="distance", count=2)
    texts = [bitting_of(key) for key in made]
    assert [key.symbol for key in made] == ["3AA", "4AA"]
    assert all(text.startswith("1432") for text in texts)
    assert all(abs(int(a) - int(b)) <= 7 for text in texts for a, b in pairwise(text))


def test_only_who_designs_extends(cast: Cast, system: KeySystem) -> None:
    for name, raised in (("desk", PermissionDenied), ("officer", PermissionDenied), ("stranger", Http404)):
        with pytest.raises(raised):
            plan_extension(
                actor=getattr(cast, name), parent=named(system, "AA"), kind=CHANGE, policy="sequence", count=1
            )


def test_the_page_shows_the_plan_and_then_makes_it(client: Client, cast: Cast, system: KeySystem) -> None:
    client.force_login(cast.locksmith)
    address = f"/systems/keys/{named(system, 'AA').pk}/extend/"
    facts = {"kind": "change", "policy": "distance", "count": "2"}
    assert "What shall be made" in client.get(address).content.decode()
    page = client.post(address, facts).content.decode()
    assert "AA4" in page
    assert not named_exists(system, "AA4")
    seen = re.search(r'name="seen" value="([0-9a-f]+)"', page)
    assert seen is not None
    answer = client.post(address, {**facts, "seen": seen[1]}, follow=True)
    assert "AA4, AA5 are made below AA." in answer.content.decode()
    for key in system.symbols.all():
        assert bitting_of(key) not in page + answer.content.decode()


def named_exists(system: KeySystem, name: str) -> bool:
    return system.symbols.filter(symbol=name).exists()


def test_a_stale_plan_is_told_on_the_page(client: Client, cast: Cast, system: KeySystem) -> None:
    client.force_login(cast.locksmith)
    address = f"/systems/keys/{named(system, 'AA').pk}/extend/"
    facts = {"kind": "change", "policy": "sequence", "count": "1", "seen": "0" * 64}
    answer = client.post(address, facts)
    assert answer.status_code == 422
    assert "look at the plan again" in answer.content.decode()
