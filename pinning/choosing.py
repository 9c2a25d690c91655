"""Which keys to hand out for given doors: as few keys as can be, and as few doors beyond them as can be.

The two aims pull apart, so the answer is their front: for each number of keys the fewest extra doors, where
one key more does better than all fewer. The question is first made small (`covers`), then answered by search
(`fronts`) or, where that takes too many steps, by OR-Tools' CP-SAT, one proven number of keys at a time.

>>> opens = {"M": ["D1", "D2", "D3", "D4"], "K1": ["D1"], "K2": ["D2", "D3"]}
>>> [(choice.keys, choice.extra) for choice in choose_keys(opens, ["D1", "D2"])]
[(('M',), 2), (('K1', 'K2'), 1)]
"""

from collections.abc import Collection, Iterator, Mapping
from dataclasses import dataclass
from itertools import combinations
from math import inf
from time import monotonic
from typing import Any, Generic, TypeVar

from pinning.asking import Asked
from pinning.covers import Cover, narrow_cover, reduce_cover
from pinning.errors import Refusal, Refused
from pinning.fronts import Front, preview_front, search_front, undominated
from pinning.wording import said

__all__ = ["LIMIT_S", "KeySet", "choose_keys", "preview_keys"]

LIMIT_S = 60.0
# A step takes a few microseconds; what is not found by then is left to the solver.
SEARCH_STEPS = 20_000
# The same for one of the narrower questions that the wide keys leave.
CASE_STEPS = 2_000
# A key is wide if it opens this part of the extra doors of the best set known, and so many are told apart.
WIDE = 4
MOST_WIDE = 6

Chosen = tuple[int, ...]
Key = TypeVar("Key")
Door = TypeVar("Door")


@dataclass(frozen=True, slots=True)
class KeySet(Generic[Key]):
    """Keys in the order given, and how many doors beyond the needed ones they open.

    `is_proven`: no as small a set of keys opens fewer extra doors, and no smaller one as few.
    """

    keys: tuple[Key, ...]
    extra: int
    is_proven: bool


def choose_keys(
    opens: Mapping[Key, Collection[Door]],
    needed: Collection[Door],
    max_keys: int | None = None,
    limit_s: float = LIMIT_S,
    *,
    effort: float | None = None,
    search_steps: int = SEARCH_STEPS,
) -> list[KeySet[Key]]:
    """The front, fewest keys first; empty if `max_keys` are too few.

    Of keys that do alike the first given is chosen; for the rest the same input gives the same answer. What
    is not proven within `limit_s` seconds is marked, and entries may then be missing too. Raises `Refused`:
    `no_key` for a needed door that no key opens, `too_large`.

    `effort` bounds the solver's work too, in about seconds but by its own count of steps: whoever has to get
    the same answer again, proven or not, gives it and a generous `limit_s`.
    """
    until = monotonic() + limit_s
    cover = reduce_cover(opens, needed)
    most = len(cover.openers) if max_keys is None else min(max_keys, len(cover.openers))
    front = search_front(cover, most, search_steps)
    if front is not None:
        return _choices(cover, front, set(front))
    return _choices(cover, *_Solving(cover, most, until, effort, min(search_steps, CASE_STEPS)).front())


def preview_keys(
    opens: Mapping[Key, Collection[Door]],
    needed: Collection[Door],
    max_keys: int | None = None,
    *,
    more: Mapping[Key, int] | None = None,
) -> list[KeySet[Key]]:
    """As `choose_keys`, at once and not proven: the keys open every needed door, and better may exist.

    `more` says of some keys how many doors they open that `opens` does not list: whoever asks at once need
    not read what a master of a whole site opens. The extra doors are then at most so many.

    >>> [(choice.keys, choice.extra) for choice in preview_keys({"M": "ab", "K": "a"}, "ab", more={"M": 9})]
    [(('M',), 9)]
    """
    cover = reduce_cover(opens, needed, more)
    most = len(cover.openers) if max_keys is None else max_keys
    return _choices(cover, preview_front(cover, most), set())


def _choices(cover: Cover[Key], front: Front, proven: Collection[int]) -> list[KeySet[Key]]:
    return [
        KeySet(tuple(cover.keys[key] for key in chosen), extra, number in proven)
        for number, (extra, chosen) in sorted(front.items())
    ]


class _Solving:
    """From the fewest extra doors down to the fewest keys, each entry of the front in one proof: extra doors
    first and keys second are made least with fewer keys than the entry before, until no set is left."""

    def __init__(
        self,
        cover: Cover[Any],
        most: int,
        until: float,
        effort: float | None = None,
        case_steps: int = CASE_STEPS,
    ) -> None:
        self.cover, self.most, self.until, self.case_steps = cover, most, until, case_steps
        self.effort = inf if effort is None else effort
        # What is left of the question once some keys are held and others barred, and what was found there.
        self.cases: dict[tuple[Chosen, Chosen], tuple[Cover[int] | None, Front | None]] = {}

    def front(self) -> tuple[Front, set[int]]:
        front: Front = dict(preview_front(self.cover, self.most))
        proven = {number for number in front if number == 0}
        most = self.most
        while most > 0:
            chosen, is_proven = self._best(most, front)
            if chosen is None and not is_proven:
                self._leave_open(most, front)
                proven.clear()
            if chosen is None:
                break
            front[len(chosen)] = (self.cover.extra_doors(chosen), chosen)
            if is_proven:
                proven.add(len(chosen))
            most = len(chosen) - 1
        return undominated(front), proven

    def _leave_open(self, most: int, front: Front) -> None:
        """Fewer keys might do. A front without entries would say that they do not."""
        if not front:
            reason = said(
                "Whether {most} keys open all these doors is not settled in time. Ask for fewer doors, "
                "allow more keys, or give more time.",
                most=most,
            )
            raise Refused([Refusal("too_large", reason)])

    def _best(self, most: int, known: Front) -> tuple[Chosen | None, bool]:
        """(the best set of at most so many keys, or None; whether that is proven), case by case."""
        fitting = [chosen for number, (_, chosen) in known.items() if number <= most]
        best = min(fitting, key=self._cost, default=None)
        is_proven = True
        for held, barred in self._cases(most, best):
            found, is_closed = self._solved(most, held, barred, best)
            is_proven = is_proven and is_closed
            if found is not None and (best is None or self._cost(found) < self._cost(best)):
                best = found
        return best, is_proven

    def _cases(self, most: int, best: Chosen | None) -> Iterator[tuple[Chosen, Chosen]]:
        """Which of the widest keys are taken and which are not. A solver sees little of a question while
        it is open whether a master is in; with that settled, each case is quick. Cases that open more extra
        doors than the best set known are left out: they cannot better it."""
        ceiling = sum(self.cover.weights) + 1 if best is None else self.cover.extra_doors(best) + 1
        widths = [(self.cover.weight(groups), key) for key, groups in enumerate(self.cover.adds)]
        wide = [(width, key) for width, key in widths if WIDE * width >= ceiling]
        wide = sorted(wide, key=lambda row: (-row[0], row[1]))[:MOST_WIDE]
        barred = {key for width, key in widths if width >= ceiling}
        split = [key for _, key in wide if key not in barred]
        for number in range(min(len(split), most) + 1):
            for held in combinations(split, number):
                if self.cover.extra_doors(held) < ceiling:
                    yield held, tuple(barred | (set(split) - set(held)))

    def _cost(self, chosen: Chosen) -> int:
        return (len(self.cover.keys) + 1) * self.cover.extra_doors(chosen) + len(chosen)

    def _solved(
        self, most: int, held: Chosen, barred: Chosen, best: Chosen | None
    ) -> tuple[Chosen | None, bool]:
        """(a better set than the best known, or None; whether the case is closed)."""
        if monotonic() >= self.until or self.effort <= 0:
            return None, False
        case, front = self._case(held, barred)
        room = most - len(held)
        if case is None or len(case.openers) > room * max(map(int.bit_count, case.covers), default=0):
            return (held, True) if case is not None and not case.openers else (None, True)
        if front is not None:
            fitting = [chosen for number, (_, chosen) in front.items() if number <= room]
            named = [_named(case, held, chosen) for chosen in fitting]
            return min(named, key=self._cost, default=None), True
        return self._by_solver(case, room, held, best)

    def _case(self, held: Chosen, barred: Chosen) -> tuple[Cover[int] | None, Front | None]:
        """The narrower question, and its whole front where a search finds that."""
        if (held, barred) not in self.cases:
            case = narrow_cover(self.cover, held, barred)
            front = search_front(case, len(case.openers), self.case_steps) if case else None
            self.cases[held, barred] = case, front
        return self.cases[held, barred]

    def _by_solver(
        self, case: Cover[int], room: int, held: Chosen, best: Chosen | None
    ) -> tuple[Chosen | None, bool]:
        asked = Asked(case, room, len(self.cover.keys) + 1)
        if best is not None and held:
            asked.below(self._cost(best) - self._cost(held))
        elif best is not None:
            # Measured: where an answer is likely, a hint helps the solver and a ceiling hinders it.
            asked.hint(best)
        answer = asked.solve(self.until - monotonic(), self.effort)
        self.effort -= answer.effort
        if answer.chosen is None:
            return None, answer.is_closed
        chosen = _named(case, held, answer.chosen)
        # A model that counted other doors than the keys open would prove nothing.
        is_counted = answer.cost + self._cost(held) == self._cost(chosen)
        return chosen, is_counted and answer.is_closed


def _named(case: Cover[int], held: Chosen, chosen: Chosen) -> Chosen:
    return tuple(sorted((*held, *(case.keys[key] for key in chosen))))
