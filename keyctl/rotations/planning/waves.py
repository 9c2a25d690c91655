"""The plan: a quick filling; where it is not the best there can be, better ones from it; then the solver."""

from collections.abc import Callable, Sequence

from django.utils.translation import gettext as _

from keyctl.rotations.planning.filling import filled
from keyctl.rotations.planning.mending import mended
from keyctl.rotations.planning.question import (
    Held,
    NoPlan,
    Plan,
    Question,
    doors_by_building,
    fewest_waves,
    is_in_time,
    plan_of,
    refuse_what_cannot_be,
    visits_of,
)
from keyctl.rotations.planning.reshuffling import reshuffled
from keyctl.rotations.planning.solving import solve
from keyctl.rotations.planning.splitting import Items, fewest_cuts, good_groups

Watch = Callable[[str], None]

# Solver steps, not seconds: the same plan comes out again on another day.
EFFORT = 8.0


def plan_waves(question: Question, *, effort: float = EFFORT, watch: Watch | None = None) -> Plan:
    """The waves. Raises ``NoPlan`` where spares are missing or the doors that belong together do not fit."""
    least = fewest_waves(question)
    if not least:
        return Plan((), 0, 0)
    refuse_what_cannot_be(question, least)
    count = question.most_waves or least
    simple = _apart(question)
    first = filled(question, count, simple)
    if first is not None and visits_of(first) == simple:
        return plan_of(first, simple)
    if watch:
        watch("Looking for fewer visits")
    bound = max(simple, *(_with_cuts(question, name, count) for name in question.spares))
    return _improved(question, count, bound, first, effort)


def _improved(
    question: Question, count: int, bound: int, first: Sequence[Held] | None, effort: float
) -> Plan:
    again = filled(question, count, bound, _groups(question, count))
    tried = (first, again, mended(question, count))
    best: Sequence[Held] | None = min(
        (each for each in tried if each is not None), key=visits_of, default=None
    )
    if best is not None and visits_of(best) == bound:
        return plan_of(best, bound)
    if best is not None:
        best = reshuffled(question, best, bound, effort)
        if visits_of(best) == bound:
            return plan_of(best, bound)
    found = solve(question, count, bound, best, effort if best is None else effort / 4)
    if found.waves is not None and (best is None or visits_of(found.waves) < visits_of(best)):
        best = found.waves
    if best is None:
        raise NoPlan(_why_not(question, count, found.is_impossible))
    # A referee of our own: the solver's answer is held against the question once more.
    assert is_in_time(question, best)  # noqa: S101
    return plan_of(best, max(bound, found.bound))


def _why_not(question: Question, count: int, is_impossible: bool) -> str:
    if not is_impossible:
        return _(
            "No plan was found that keeps doors that share a key close. Allow more time, or take more spares."
        )
    if question.widest:
        return _(
            "Doors that share a key cannot all be done within {widest} waves of each other in time in "
            "{count} waves. Allow more time, or take more spares."
        ).format(widest=question.widest, count=count)
    return _(
        "Doors that share a key cannot all be done in time in {count} waves. Allow more time, or take more "
        "spares."
    ).format(count=count)


def _apart(question: Question) -> int:
    """The visits that each building takes, whatever the others do."""
    return sum(_alone(each, question) for each in doors_by_building(question.batches).values())


def _alone(doors: dict[str, int], question: Question) -> int:
    return max(-(-count // question.spares[name]) for name, count in doors.items())


def _with_cuts(question: Question, name: str, count: int) -> int:
    """Buildings with this format as if nothing else were in them, with the cuts that full waves bring."""
    buildings = doors_by_building(question.batches)
    others = sum(_alone(each, question) for each in buildings.values() if name not in each)
    mine = {building: each[name] for building, each in buildings.items() if name in each}
    apart = sum(-(-doors // question.spares[name]) for doors in mine.values())
    return others + apart + fewest_cuts(Items.of(mine, question.spares[name], count))


def _groups(question: Question, count: int) -> list[list[list[str]]]:
    """For each format the groups of buildings that close waves among themselves; then those without it."""
    buildings = doors_by_building(question.batches)
    found = []
    for name, spares in question.spares.items():
        mine = {building: each[name] for building, each in buildings.items() if name in each}
        if mine:
            groups = good_groups(Items.of(mine, spares, count))
            found.append([*groups, [building for building in buildings if building not in mine]])
    return found
