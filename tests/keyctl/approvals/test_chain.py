"""Which decisions keys and doors need: each rule by its words, the whole chain against a plain reading."""

import random
from collections.abc import Sequence
from uuid import UUID, uuid4

import pytest

from keyctl.approvals.chain import (
    STARTING_RULES,
    Effect,
    GivenKey,
    Rule,
    first_step,
    further_steps,
    mark_of,
)
from keyctl.lib.errors import Refused

CHANGE = GivenKey("AA1", False, 2)
MASTER = GivenKey("AA", True, 1)
TOP = GivenKey("GGM", True, 0)


def effect(*keys: GivenKey, extra: int = 0, **doors: int) -> Effect:
    return Effect(keys or (CHANGE,), doors or {"ordinary": 1}, extra)


def needed(rule: Rule, given: Effect) -> list[str]:
    return [why for step in further_steps([rule], given) for why in step.why]


def test_a_change_key_to_ordinary_doors_needs_the_buildings_people_alone() -> None:
    assert further_steps(STARTING_RULES, effect()) == []
    assert first_step(STARTING_RULES).who == "building"


def test_a_master_needs_an_officer_who_decided_nothing_before() -> None:
    (step,) = further_steps(STARTING_RULES, effect(MASTER))
    assert (step.who, step.is_apart, step.why) == ("officer", True, ["AA is a master key."])


def test_what_the_same_people_decide_is_one_step_with_every_reason() -> None:
    (step,) = further_steps(STARTING_RULES, effect(MASTER, extra=25, critical=2, ordinary=24))
    assert step.why == [
        "AA is a master key.",
        "The keys open 2 critical doors.",
        "The keys open 25 doors that nobody asked for.",
    ]
    assert step.silent_hours == 24


@pytest.mark.parametrize(("level", "holds"), [(0, False), (1, True), (2, True)])
def test_a_rule_for_a_level_holds_for_masters_at_it_and_above(level: int, *, holds: bool) -> None:
    assert bool(needed(Rule("level", "officer", level=level), effect(MASTER))) is holds


def test_a_top_key_that_is_a_change_key_is_no_top_key() -> None:
    lone = GivenKey("1", False, 0)
    assert needed(Rule("top", "officer"), effect(lone)) == []
    assert needed(Rule("top", "officer"), effect(TOP)) == ["GGM is a top key."]


def test_a_rule_for_restricted_doors_holds_for_critical_ones_too() -> None:
    rule = Rule("door-class", "officer", door_class="restricted")
    assert needed(rule, effect(critical=1)) == ["The keys open 1 restricted or critical door."]
    assert needed(rule, effect(ordinary=9)) == []
    assert needed(Rule("door-class", "officer", door_class="critical"), effect(restricted=9)) == []


def test_a_control_key_is_given_on_no_request_whatever_the_rules() -> None:
    with pytest.raises(Refused, match="CTR is a control key"):
        further_steps([], effect(GivenKey("CTR", False, None, is_control=True)))


def test_the_order_of_the_rules_is_the_order_of_the_steps() -> None:
    people = frozenset({uuid4()})
    named, officer = Rule("always", "named", people=people), Rule("master", "officer")
    steps = [step.who for step in further_steps([named, officer], effect(MASTER))]
    assert steps == ["named", "officer"]
    assert [step.who for step in further_steps([officer, named], effect(MASTER))] == steps[::-1]


def test_the_mark_changes_with_every_fact_of_a_rule_and_with_their_order() -> None:
    one, other = Rule("master", "officer"), Rule("top", "officer")
    variants = [
        [one],
        [one, other],
        [other, one],
        [Rule("master", "officer", is_apart=True)],
        [Rule("master", "officer", silent_hours=47)],
        [Rule("master", "named", people=frozenset({uuid4()}))],
        [Rule("level", "officer", level=1)],
        [Rule("extra", "officer", extra=1)],
        [Rule("door-class", "officer", door_class="critical")],
    ]
    assert len({mark_of(rules) for rules in variants}) == len(variants)
    assert mark_of([one]) == mark_of([Rule("master", "officer")])


def holds(rule: Rule, given: Effect) -> bool:
    """One rule read from its words, without tables."""
    levels = [key.level for key in given.keys if key.is_master]
    grave, restricted = given.doors.get("critical", 0), given.doors.get("restricted", 0)
    return {
        "always": True,
        "master": len(levels) > 0,
        "top": 0 in levels,
        "level": any(level is not None and level <= (rule.level or 0) for level in levels),
        "door-class": grave > 0 or (rule.door_class == "restricted" and restricted > 0),
        "extra": rule.extra is not None and given.extra >= rule.extra,
    }[rule.when]


def plainly(rules: Sequence[Rule], given: Effect) -> list[tuple[str, frozenset[UUID], int, bool]]:
    """The whole chain: rules that hold, by whom they ask, in the order of the first that asks for them."""
    asking = [rule for rule in rules if holds(rule, given) and (rule.who != "building" or rule.is_apart)]
    order = list(dict.fromkeys((rule.who, rule.people) for rule in asking))
    found = []
    for who, people in order:
        same = [rule for rule in asking if (rule.who, rule.people) == (who, people)]
        hours = min(rule.silent_hours for rule in same)
        found.append((who, people, hours, any(rule.is_apart for rule in same)))
    return found


def a_rule(rng: random.Random, groups: list[frozenset[UUID]]) -> Rule:
    when = rng.choice(["always", "master", "top", "level", "door-class", "extra"])
    who = rng.choice(["building", "officer", "named"])
    return Rule(
        when,
        who,
        level=rng.randrange(3) if when == "level" else None,
        door_class=rng.choice(["restricted", "critical"]) if when == "door-class" else "",
        extra=rng.randrange(1, 30) if when == "extra" else None,
        people=rng.choice(groups) if who == "named" else frozenset(),
        is_apart=rng.random() < 0.4,
        silent_hours=rng.randrange(1, 100),
    )


def an_effect(rng: random.Random) -> Effect:
    keys = tuple(
        GivenKey(f"K{place}", rng.random() < 0.4, rng.choice([0, 1, 2, None]))
        for place in range(rng.randrange(1, 4))
    )
    doors = {name: rng.choice([0, 0, 1, 7]) for name in ("ordinary", "restricted", "critical")}
    return Effect(keys, doors, rng.randrange(40))


def test_the_chain_is_what_the_words_of_the_rules_say() -> None:
    rng = random.Random(20261126)
    groups = [frozenset({uuid4()}), frozenset({uuid4(), uuid4()})]
    for _ in range(5_000):
        rules, given = [a_rule(rng, groups) for _ in range(rng.randrange(6))], an_effect(rng)
        steps = further_steps(rules, given)
        found = [(step.who, step.people, step.silent_hours, step.is_apart) for step in steps]
        assert found == plainly(rules, given)
        assert all(step.why and all(why.endswith(".") for why in step.why) for step in steps)
