"""Which keys are proposed, and what they are said to open, on estates small enough to see through."""

from functools import partial
from typing import Any
from uuid import UUID

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.utils import timezone

from keyctl import engine
from keyctl.approvals import proposals
from keyctl.approvals.proposals import a_few, doors_without_opener, proposals_for
from keyctl.cores.models import Core, Turn
from keyctl.systems.models import KeySymbol
from tests import factories
from tests.keyctl.approvals.estate import Estate, names, page
from tests.keyctl.keys.keyroom import bare_key, bare_system


def test_a_key_for_each_door_stands_beside_the_master_over_both(estate: Estate) -> None:
    one, two, master = estate.key("AA1"), estate.key("AA2"), estate.key("AA", is_master=True)
    first, second = estate.door(one, master), estate.door(two, master)
    extra = estate.door(master)
    few, single = proposals_for(estate.ask(first, second))
    assert (names(few), few.extra) == (["AA1", "AA2"], frozenset())
    assert (names(single), single.extra) == (["AA"], frozenset({extra.pk}))
    assert few.doors == {first.pk, second.pk}
    assert single.doors == {first.pk, second.pk, extra.pk}
    assert (few.has_master, single.has_master) == (False, True)
    assert (few.label, single.label) == ("Several keys, fewer extra doors", "A single key")


def test_one_key_without_more_extra_doors_is_one_proposal(estate: Estate) -> None:
    door = estate.door(estate.key("AA1"), estate.key("AA", is_master=True))
    estate.door(*estate.system.symbols.filter(symbol="AA"))
    (only,) = proposals_for(estate.ask(door))
    assert (names(only), only.label) == (["AA1"], "A single key")


def test_without_a_key_for_all_doors_there_is_no_single_one(estate: Estate) -> None:
    request = estate.ask(estate.door(estate.key("AA1")), estate.door(estate.key("BB1")))
    (few,) = proposals_for(request)
    assert (names(few), few.label) == (["AA1", "BB1"], "Several keys")


def test_a_needless_key_is_left_out(estate: Estate) -> None:
    """AA1 is picked for its own door, but AA2 is needed for the third and opens the first as well."""
    one, two = estate.key("AA1"), estate.key("AA2")
    first, third = estate.door(one, two), estate.door(two)
    estate.door(two)
    (only,) = proposals_for(estate.ask(first, third))
    assert names(only) == ["AA2"]


def test_a_control_key_is_never_proposed(estate: Estate) -> None:
    control = bare_key(estate.system, "CTR", kind=estate.key("AA1").Kind.CONTROL, level=None)
    assert proposals_for(estate.ask(estate.door(control))) == []


def test_a_key_that_only_withdraws_the_core_opens_nothing(estate: Estate) -> None:
    assert proposals_for(estate.ask(estate.door(estate.key("AA1"), withdraws=True))) == []


def test_a_key_of_a_system_that_the_site_does_not_use_is_not_proposed(estate: Estate) -> None:
    foreign = estate.key("ZZ1", system=bare_system(estate.cast.south, actor=estate.cast.stranger))
    assert proposals_for(estate.ask(estate.door(foreign))) == []


def test_a_key_that_was_retired_after_a_loss_is_not_proposed(estate: Estate) -> None:
    lost, instead = estate.key("AA1"), estate.key("AA2")
    door = estate.door(lost, instead)
    estate.door(instead)
    KeySymbol.objects.filter(pk=lost.pk).update(retired_at=timezone.now())
    (only,) = proposals_for(estate.ask(door))
    assert names(only) == ["AA2"]


def test_extra_doors_at_other_sites_count(estate: Estate) -> None:
    key = estate.key("AA1")
    door = estate.door(key)
    elsewhere = estate.door(key, floor=factories.make_floor(estate.cast.south))
    (only,) = proposals_for(estate.ask(door))
    assert only.extra == {elsewhere.pk}


def test_a_door_with_two_locks_counts_once(estate: Estate) -> None:
    """Counted twice, AB1 would seem to open one door too many, and AA1 would win by its name."""
    exact, wide = estate.key("AB1"), estate.key("AA1")
    door = estate.door(exact, wide)
    padlock = factories.install(estate.core(), factories.make_housing(door=door, kind="padlock"))
    Turn.objects.create(core=padlock, symbol=exact, operates=True, withdraws=False)
    estate.door(wide)
    (only,) = proposals_for(estate.ask(door))
    assert (names(only), only.extra) == (["AB1"], frozenset())


def test_a_core_on_the_shelf_opens_no_door(estate: Estate) -> None:
    key = estate.key("AA1")
    door, other = estate.door(key), estate.door(key)
    Core.objects.filter(housing__door=other).update(place="shelf", housing=None)
    (only,) = proposals_for(estate.ask(door))
    assert only.extra == frozenset()


def test_the_doors_that_no_key_opens_are_named_with_the_cause(estate: Estate) -> None:
    opened = estate.door(estate.key("AA1"))
    empty, unpinned, odd = factories.make_door(floor=estate.floor), estate.door(), estate.door()
    Core.objects.filter(housing__door=unpinned).update(pinning=None, pinned_at=None, pinned_by=None)
    closed = {each.door: each.why for each in doors_without_opener(estate.ask(opened, empty, unpinned, odd))}
    assert closed == {
        empty: "there is no core in it",
        unpinned: "its core is not pinned yet",
        odd: "no key of this site turns its core",
    }


def test_the_proposals_cover_the_other_doors(estate: Estate) -> None:
    request = estate.ask(estate.door(estate.key("AA1")), factories.make_door(floor=estate.floor))
    assert [names(proposal) for proposal in proposals_for(request)] == [["AA1"]]


def front(*figures: tuple[int, int], is_proven: bool = True) -> list["engine.KeySet[UUID]"]:
    return [
        engine.KeySet(tuple(UUID(int=n) for n in range(number)), extra, is_proven)
        for number, extra in figures
    ]


def test_of_a_long_front_the_ends_and_the_greatest_gains_are_proposed() -> None:
    whole = front((1, 90), (2, 60), (3, 55), (4, 20), (6, 18), (7, 17))
    assert [(len(chosen.keys), chosen.extra) for chosen in a_few(whole)] == [
        (1, 90),
        (2, 60),
        (4, 20),
        (7, 17),
    ]
    assert a_few(whole[:1]) == whole[:1]
    assert a_few(whole[:4]) == whole[:4]


def test_three_proposals_are_told_apart_by_their_figures(estate: Estate) -> None:
    """A master over all, one key for two of the doors, and a key for each."""
    master, pair = estate.key("AA", is_master=True), estate.key("AB")
    one, two, three = estate.key("AA1"), estate.key("AA2"), estate.key("AA3")
    doors = [estate.door(one, pair, master), estate.door(two, pair, master), estate.door(three, master)]
    estate.door(pair, master)
    estate.door(master)
    found = proposals_for(estate.ask(*doors))
    assert [(each.label, names(each)) for each in found] == [
        ("3 keys, no extra doors", ["AA1", "AA2", "AA3"]),
        ("2 keys, 1 extra door", ["AA3", "AB"]),
        ("A single key", ["AA"]),
    ]
    assert all(each.is_proven for each in found)


def test_what_the_effort_did_not_prove_is_proposed_and_says_so(
    estate: Estate, monkeypatch: pytest.MonkeyPatch, client: Client
) -> None:
    monkeypatch.setattr(proposals, "EFFORT", 1e-9)
    monkeypatch.setattr(engine, "choose_keys", partial(engine.choose_keys, search_steps=0))
    one, two, master = estate.key("AA1"), estate.key("AA2"), estate.key("AA", is_master=True)
    request = estate.ask(estate.door(one, master), estate.door(two, master))
    estate.door(master)
    found = proposals_for(request)
    assert found
    assert not any(each.is_proven for each in found)
    assert [each.key for each in proposals_for(request)] == [each.key for each in found]
    assert "Not proven the best" in page(client, estate.cast.manager, "detail", request.pk)


@pytest.mark.parametrize("count", [1, 8, 25])
def test_four_queries_suffice_however_many_doors_are_asked_for(estate: Estate, count: int) -> None:
    master = estate.key("AA", is_master=True)
    estate.door(master)
    request = estate.ask(*(estate.door(estate.key(f"AA{n}"), master) for n in range(count)))
    with CaptureQueriesContext(connection) as queries:
        proposals = proposals_for(request)
    assert len(queries) == 4
    assert len(names(proposals[0])) == count


def test_the_same_question_is_worked_out_once_and_another_anew(
    estate: Estate, monkeypatch: pytest.MonkeyPatch
) -> None:
    worked_out = []

    def counted(*args: Any, **facts: Any) -> Any:
        worked_out.append(1)
        return choose(*args, **facts)

    choose = engine.choose_keys
    monkeypatch.setattr(engine, "choose_keys", counted)
    master = estate.key("AA", is_master=True)
    request = estate.ask(estate.door(master))
    first = [each.key for each in proposals_for(request)]
    assert [each.key for each in proposals_for(request)] == first
    assert len(worked_out) == 1
    estate.door(master)
    assert [each.key for each in proposals_for(request)] != first
    assert len(worked_out) == 2
