"""What is asked, what is answered, and what cannot be planned at all."""

from collections import Counter, defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field

from django.utils.translation import gettext as _
from django.utils.translation import ngettext


@dataclass(frozen=True, order=True)
class Batch:
    """Doors of one building and one format that need not be told apart.

    ``together`` names what they share a key by; doors with a key of their own have an empty one.
    """

    building: str
    format_id: str
    count: int
    together: str = ""


# How many doors of each batch are done in one wave.
Held = Mapping[Batch, int]


@dataclass(frozen=True)
class Question:
    batches: tuple[Batch, ...]
    # Spare cores by format.
    spares: Mapping[str, int]
    # More waves than needed make fewer visits; None takes the fewest.
    most_waves: int | None = None
    # Doors that share a key are done within so many waves.
    widest: int | None = None
    # Of keys that were begun before: within how many waves from now their last doors are done.
    latest: Mapping[str, int] = field(default_factory=dict)

    @property
    def is_bound_in_time(self) -> bool:
        return self.widest is not None or bool(self.latest)


@dataclass(frozen=True)
class Plan:
    """``waves[w]`` says how many doors of each batch are done in wave ``w``."""

    waves: tuple[Held, ...]
    visits: int
    fewest_visits: int

    @property
    def is_proven(self) -> bool:
        return self.visits == self.fewest_visits

    @property
    def gap(self) -> float:
        """How far above the bound, as a share of it."""
        return (self.visits - self.fewest_visits) / self.fewest_visits if self.fewest_visits else 0.0


class NoPlan(Exception):
    """Why there is none, in a sentence with the remedy."""


def fewest_waves(question: Question) -> int:
    """Every wave takes as many doors of a format as there are spares of it."""
    doors = doors_by_format(question.batches)
    _refuse_formats_without_spares(doors, question.spares)
    return max((-(-count // question.spares[name]) for name, count in doors.items()), default=0)


def doors_by_format(batches: Iterable[Batch]) -> Counter[str]:
    doors: Counter[str] = Counter()
    for batch in batches:
        doors[batch.format_id] += batch.count
    return doors


def doors_by_building(batches: Iterable[Batch]) -> dict[str, Counter[str]]:
    """By building, its doors by format."""
    doors: dict[str, Counter[str]] = defaultdict(Counter)
    for batch in batches:
        doors[batch.building][batch.format_id] += batch.count
    return doors


def groups_of(batches: Iterable[Batch]) -> dict[str, list[Batch]]:
    """What belongs together."""
    found: dict[str, list[Batch]] = defaultdict(list)
    for batch in batches:
        if batch.together:
            found[batch.together].append(batch)
    return found


def visits_of(waves: Iterable[Held]) -> int:
    return sum(len({batch.building for batch, number in wave.items() if number}) for wave in waves)


def plan_of(waves: Sequence[Held], bound: int) -> Plan:
    kept = tuple({batch: number for batch, number in sorted(wave.items()) if number} for wave in waves)
    return Plan(tuple(wave for wave in kept if wave), visits_of(kept), bound)


def is_in_time(question: Question, waves: Sequence[Held]) -> bool:
    """Whether what shares a key is close together, and what was begun before is done soon enough."""
    seen: dict[str, list[int]] = defaultdict(list)
    for place, wave in enumerate(waves):
        for batch, number in wave.items():
            if number and batch.together:
                seen[batch.together].append(place)
    if any(max(seen[name]) >= last for name, last in question.latest.items() if name in seen):
        return False
    widest = question.widest
    return widest is None or all(max(places) - min(places) < widest for places in seen.values())


def refuse_what_cannot_be(question: Question, least: int) -> None:
    """Too few waves, or a key with more doors than the spares do in the time."""
    if question.most_waves is not None and question.most_waves < least:
        raise NoPlan(
            _("With these spares it takes at least {least} waves. Allow more, or take more spares.").format(
                least=least
            )
        )
    for name, batches in groups_of(question.batches).items():
        needed = _waves_for(batches, question.spares)
        granted = min(question.widest or needed, question.latest.get(name, needed))
        if needed > granted:
            raise NoPlan(
                _("{needed}, and {granted}. Take more spares, or allow more time.").format(
                    needed=ngettext(
                        "The doors that share {name} take {count} more wave with these spares",
                        "The doors that share {name} take {count} more waves with these spares",
                        needed,
                    ).format(name=name, count=needed),
                    granted=ngettext("{count} is allowed", "{count} are allowed", granted).format(
                        count=granted
                    ),
                )
            )


def _waves_for(batches: Sequence[Batch], spares: Mapping[str, int]) -> int:
    doors = doors_by_format(batches)
    return max(-(-count // spares[name]) for name, count in doors.items())


def _waves(number: int) -> str:
    return "wave" if number == 1 else "waves"


def _refuse_formats_without_spares(doors: Mapping[str, int], spares: Mapping[str, int]) -> None:
    if missing := sorted(name for name in doors if spares.get(name, 0) < 1):
        raise NoPlan(
            _(
                "There is no spare core of the format {missing}. Register one at least, or leave those doors "
                "out."
            ).format(missing=", ".join(missing))
        )
