"""What is said of the time left, held against runs whose end is known: each is played by a curve of its own.

A curve says which share of the work is done after which share of the time. The run notes how far it is twice
a second, as a job does, and is asked at every tenth of its way.
"""

import math
import random
from collections.abc import Callable

import pytest

from keyctl.jobs.pace import LEAST_MARKS, LEAST_SECONDS, MOST_MARKS, Mark, note, seconds_left

Curve = Callable[[float], float]


def steady(share: float) -> float:
    return share


def turns_slower(share: float) -> float:
    return math.pow(share, 0.75)


def turns_faster(share: float) -> float:
    return math.pow(share, 1.3)


def begins_slowly(share: float) -> float:
    return max(0.0, (share - 0.08) / 0.92)


def among_ever_more_rows(share: float) -> float:
    """Each step costs as much as there are steps before it."""
    return math.sqrt(share)


def play(curve: Curve, seconds: float, total: int) -> list[tuple[float, float | None]]:
    """(what is left in truth, what is said) at each tenth of the time."""
    marks: list[Mark] = []
    told = []
    for tick in range(int(2 * seconds)):
        now = tick / 2
        marks = note(marks, now, int(total * curve(now / seconds)))
        if tick % int(seconds / 5) == 0 and tick:
            told.append((seconds - now, seconds_left(marks, now, total)))
    return told


@pytest.mark.parametrize("seconds", [60, 600, 7200])
@pytest.mark.parametrize(
    ("curve", "at_worst"), [(steady, 1.1), (turns_slower, 2.0), (turns_faster, 2.0), (begins_slowly, 1.6)]
)
def test_what_is_said_is_near_what_is_true(curve: Curve, at_worst: float, seconds: int) -> None:
    told = [(true, said) for true, said in play(curve, seconds, 5000) if said is not None]
    assert len(told) >= 6
    wrong = [(true, said) for true, said in told if not true / at_worst <= said <= true * at_worst]
    assert wrong == []


def test_nothing_is_said_where_each_step_costs_more_than_the_one_before() -> None:
    assert [said for _, said in play(among_ever_more_rows, 600, 5000) if said is not None] == []


def test_steps_of_very_different_length_do_not_mislead() -> None:
    """Two thousand steps of 1 to 200 ms, as chance has it: after a tenth the end is within a fifth."""
    lengths = [random.Random(7).uniform(0.001, 0.2) for _ in range(2000)]
    random.Random(8).shuffle(lengths)
    marks: list[Mark] = []
    now, end = 0.0, sum(lengths)
    for done, length in enumerate(lengths):
        marks = note(marks, now, done)
        said = seconds_left(marks, now, 2000)
        if done > 200 and end - now > 10:
            assert said is not None
            assert abs(said - (end - now)) < 0.2 * (end - now) + 3
        now += length


def test_nothing_is_said_before_enough_is_known() -> None:
    early = [(second, 100 * second) for second in range(int(LEAST_SECONDS))]
    assert seconds_left(early, LEAST_SECONDS - 0.1, 1000) is None
    assert seconds_left([(0, 0), (3, 1), (6, 2)], 6, 1000) is None  # three looks
    assert seconds_left([(0, 0), (3, 1), (6, 2), (9, 3)], 9, 1000) is None  # 3 of 1000 steps
    assert seconds_left([], 60, 0) is None
    assert LEAST_MARKS == 4


def test_nothing_is_said_of_work_that_goes_in_leaps_or_stands_still() -> None:
    fast_then_slow = [(0, 0), (1, 300), (2, 600), (3, 900), (10, 901), (20, 902)]
    assert seconds_left(fast_then_slow, 20, 2000) is None
    even = [(float(second), 10 * second) for second in range(21)]
    assert seconds_left(even, 21, 1000) is not None
    assert seconds_left(even, 200, 1000) is None  # no step for three minutes


def test_a_run_that_counts_anew_is_judged_by_its_new_part() -> None:
    marks: list[Mark] = []
    for second in range(10):
        marks = note(marks, second, 100 * second)
    marks = note(marks, 10, 0)
    assert marks == [(10, 0)]


def test_marks_are_few_however_long_a_run_is_and_reach_from_its_beginning_to_now() -> None:
    marks: list[Mark] = []
    for second in range(100_000):
        marks = note(marks, second, second)
        assert len(marks) <= MOST_MARKS
        assert (marks[0][0], marks[-1][0]) == (0, second)
