"""Differences against a plain model of sets that reads the whole story of each key, moment by moment."""

from uuid import UUID, uuid4

from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from keyctl.counts.comparing import Scanned, Standing, compare

HERE, THERE = uuid4(), uuid4()
# A key's story: the places in which the register had it, one after the other, from the start to the close.
PLACES = st.sampled_from(["here", "there", "lost", "destroyed"])
STORIES = st.lists(PLACES, min_size=1, max_size=5)
KEYS = st.lists(st.tuples(STORIES, st.none() | st.integers(0, 4)), min_size=1, max_size=8)


def standing(place: str, version: int) -> Standing:
    where = {"here": HERE, "there": THERE}.get(place)
    return Standing("in-cabinet" if where else place, where, version)


def by_the_story(keys: dict[UUID, tuple[list[str], int | None]]) -> set[tuple[str, UUID]]:
    """What is wrong, read from the stories alone: no versions, no standings."""
    found = set()
    for copy, (story, scanned_in) in keys.items():
        if scanned_in is None:
            if story == ["here"]:
                found.add(("missing", copy))
            continue
        then, end = story[min(scanned_in, len(story) - 1)], story[-1]
        if then == end and then in {"lost", "destroyed"}:
            found.add((f"{then}-found", copy))
        elif "here" not in {then, end}:
            found.add(("misplaced", copy))
    return found


@given(KEYS)
@settings(max_examples=1000, deadline=None, suppress_health_check=[HealthCheck.too_slow])
def test_differences_are_those_of_the_story(listed: list[tuple[list[str], int | None]]) -> None:
    keys = {uuid4(): key for key in listed}
    expected = {copy: standing("here", 0) for copy, (story, _) in keys.items() if story[0] == "here"}
    now = {copy: standing(story[-1], len(story) - 1) for copy, (story, _) in keys.items()}
    scans = [
        Scanned(str(copy), copy, standing(story[min(moment, len(story) - 1)], 0))
        for copy, (story, moment) in keys.items()
        if moment is not None
    ]
    outcome = compare(HERE, expected, scans, now)
    assert {(each.kind.value, each.copy) for each in outcome.differences} == by_the_story(keys)
    assert len(outcome.differences) == len(by_the_story(keys))
    assert outcome.sighted == len({scan.copy for scan in scans} & expected.keys())
    left = sum(story[0] == "here" and len(story) > 1 and at is None for story, at in keys.values())
    assert outcome.handled == left


def test_an_unknown_serial_is_a_difference_wherever_one_counts() -> None:
    for place in (HERE, None):
        (found,) = compare(place, {}, [Scanned("NOBODY", None, None)], {}).differences
        assert (found.kind, found.serial) == ("unknown", "NOBODY")


def test_a_key_that_is_sought_by_serial_may_be_anywhere() -> None:
    copy = uuid4()
    scan = Scanned("A", copy, standing("there", 0))
    assert compare(None, {copy: standing("here", 0)}, [scan], {copy: standing("there", 0)}).differences == ()


def test_a_holders_word_counts_only_where_the_rule_says_so() -> None:
    copy = uuid4()
    here, word = {copy: standing("here", 0)}, Scanned("A", copy, standing("here", 0), is_declared=True)
    strict = compare(HERE, here, [word], here)
    assert [(each.kind, each.is_declared) for each in strict.differences] == [("missing", True)]
    assert (strict.declared, strict.sighted) == (1, 0)
    assert compare(HERE, here, [word], here, accepts_declared=True).differences == ()
