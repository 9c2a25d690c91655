"""From a rotation as it is now to the question for the planner, and back from its answer to the doors."""

from collections import Counter, defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from django.db.models import Min, Q
from django.utils.translation import gettext

from keyctl.rotations.crews import Crew
from keyctl.rotations.models import Rotation, RotationCore, RotationDoor, Wave
from keyctl.rotations.planning import Batch, NoPlan, Plan, Question, fewest_waves, plan_waves
from keyctl.rotations.planning.question import doors_by_building

Doors = dict[Batch, list[RotationDoor]]


@dataclass(frozen=True)
class Answer:
    """The waves as doors; ``words`` say why there are none, or why the allowed time does not hold."""

    waves: tuple[tuple[RotationDoor, ...], ...]
    visits: int
    fewest_visits: int
    words: str = ""


def answer(rotation: Rotation, *, effort: float | None = None) -> Answer:
    """Where the time does not hold, the plan without it and the reason."""
    doors = _doors_to_plan(rotation)
    try:
        question = _question(rotation, doors)
    except NoPlan as told:
        return Answer((), 0, 0, str(told))
    try:
        return _as_doors(_planned(question, effort), doors)
    except NoPlan as told:
        if not question.is_bound_in_time:
            return Answer((), 0, 0, str(told))
        untimed = Question(question.batches, question.spares)
        return _as_doors(_planned(untimed, effort), doors, words=str(told))


def spares_of(rotation: Rotation) -> Counter[str]:
    """By format, the cores that go round, wherever they are at the moment."""
    rows = RotationCore.objects.filter(rotation=rotation, state__in=RotationCore.GOING_ROUND)
    return Counter(rows.values_list("core__format_id", flat=True))


def next_ordinal(rotation: Rotation) -> int:
    last = rotation.waves.exclude(state=Wave.State.PLANNED).order_by("-ordinal").first()
    return last.ordinal + 1 if last else 1


def waves_allowed(rotation: Rotation, batches: Sequence[Batch], spares: Mapping[str, int]) -> int | None:
    """Into how many waves the allowed days go; a wave is full and visits as many buildings as most do."""
    if rotation.allowed_days is None:
        return None
    least = fewest_waves(Question(tuple(batches), spares)) or 1
    a_wave = min(sum(spares.values()), sum(batch.count for batch in batches))
    visits = -(-len(doors_by_building(batches)) // least)
    allowed = Crew.of(rotation).waves_in(rotation.allowed_days, a_wave, visits)
    if allowed < 1:
        raise NoPlan(
            gettext(
                "A wave with these spares takes this crew longer than the {allowed_days} days allowed. Allow "
                "more days, or give more people."
            ).format(allowed_days=rotation.allowed_days)
        )
    return allowed


def _doors_to_plan(rotation: Rotation) -> Doors:
    """Those to do that are in no wave that has begun; each batch in the order of a route."""
    rows = rotation.doors.filter(state=RotationDoor.State.WAITING).with_places()
    rows = rows.filter(Q(wave__isnull=True) | Q(wave__state=Wave.State.PLANNED))
    found: dict[tuple[str, str, str], list[RotationDoor]] = defaultdict(list)
    for door in rows:
        found[str(door.housing.door.building.pk), door.format_id, door.together].append(door)
    return {Batch(place, name, len(each), key): each for (place, name, key), each in found.items()}


def _question(rotation: Rotation, doors: Doors) -> Question:
    batches, spares = tuple(sorted(doors)), dict(spares_of(rotation))
    needed = {batch.format_id for batch in batches}
    spares = {name: count for name, count in spares.items() if name in needed}
    widest = waves_allowed(rotation, batches, spares) if batches else None
    latest = {} if widest is None else _latest(rotation, batches, widest)
    return Question(batches, spares, widest=widest, latest=latest)


def _latest(rotation: Rotation, batches: Sequence[Batch], widest: int) -> dict[str, int]:
    """For keys that were begun in an earlier wave: how many of the waves to come are left for them."""
    begun = rotation.doors.exclude(together="").filter(
        Q(state=RotationDoor.State.SWAPPED) | Q(wave__state=Wave.State.BEGUN), wave__isnull=False
    )
    first = dict(begun.order_by().values_list("together").annotate(first=Min("wave__ordinal")))
    now, named = next_ordinal(rotation), {batch.together for batch in batches}
    return {key: max(at + widest - now, 0) for key, at in first.items() if key in named}


def _planned(question: Question, effort: float | None) -> Plan:
    return plan_waves(question) if effort is None else plan_waves(question, effort=effort)


def _as_doors(plan: Plan, doors: Doors, words: str = "") -> Answer:
    left = {batch: iter(each) for batch, each in doors.items()}
    waves = tuple(
        tuple(next(left[batch]) for batch, number in wave.items() for _ in range(number))
        for wave in plan.waves
    )
    return Answer(waves, plan.visits, plan.fewest_visits, words)
