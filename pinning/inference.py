"""An inherited system reconstructed: its likely top masters, array, control key and odd cores.

From decoded cores and keys in circulation, without papers. What is concluded is a guess with its evidence
beside it, never a fact: try a candidate in cores that were not decoded before anything is built on it.

>>> from pinning.bittings import parse_bitting
>>> from pinning.formats import load
>>> from pinning.reading import read_stacks
>>> from pinning.evidence import seen_reading
>>> from pinning.stacks import pin
>>> a2 = load("small-a2-6")
>>> changes = ["583614", "705278", "927830", "149056"]
>>> cores = [seen_reading(key, read_stacks(a2, pin(a2, [key, "361492"], "743810"))) for key in changes]
>>> found = reconstruct(a2, cores)
>>> found.candidates[0].bitting.text, round(found.candidates[0].share, 2), found.control.bitting.text
('361492', 1.0, '743810')
>>> [column.seen for column in found.array][0]
(1, 5, 7, 9)
"""

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, field
from functools import cached_property
from math import log2

from pinning.bittings import Bitting, bitting_of
from pinning.candidates import MARGINS, Found, search, shares_of
from pinning.errors import Refusal, Refused
from pinning.evidence import CircularKey, Cuts, Row, SeenCore, core_rows, key_rows, series
from pinning.formats import CoreFormat
from pinning.habits import usage
from pinning.wording import Said, positions_said, said

__all__ = [
    "ArrayColumn",
    "Candidate",
    "ControlFound",
    "Odd",
    "Reconstruction",
    "Support",
    "reconstruct",
]

SHOWN = 20
ALWAYS_SHOWN = 3
WORTH_SHOWING = 0.001
MOST_CORES = 2_000


@dataclass(frozen=True, slots=True)
class Support:
    """One cut of a position: how many cores hold it there, and how likely it is the top master's."""

    cut: int = field(repr=False)
    cores: int
    share: float


@dataclass(frozen=True, slots=True)
class Candidate:
    """A likely top master. `share` is its chance among all that come near; `positions` holds its own cut
    first and then the others that are still possible there, likeliest first.
    """

    bitting: Bitting = field(repr=False)
    share: float
    turns: tuple[str, ...]
    fails: tuple[str, ...]
    positions: tuple[tuple[Support, ...], ...]


@dataclass(frozen=True, slots=True)
class Odd:
    """A core that the likeliest master does not turn: `misread`, `foreign`, `single` or `doubtful`."""

    core: str
    reason: str
    positions: tuple[int, ...]

    @property
    def message(self) -> Said:
        where = positions_said(self.positions)
        if self.reason == "misread":
            return said(
                "{core}: {where} holds a cut next to the master's; read its pins again.",
                core=self.core,
                where=where,
            )
        if self.reason == "doubtful":
            return said(
                "{core}: it looks like one of the system, but for {where}; read its pins again.",
                core=self.core,
                where=where,
            )
        if self.reason == "single":
            return said(
                "{core}: it has the control key of the others, and not the master's cut in {where}: it may "
                "be keyed by itself, outside the masters.",
                core=self.core,
                where=where,
            )
        return said(
            "{core}: it has not the master's cut in {where}: it is probably of another system.",
            core=self.core,
            where=where,
        )


@dataclass(frozen=True, slots=True)
class ArrayColumn:
    """One position's key bitting array as far as it shows beside the likeliest master."""

    master: int = field(repr=False)
    seen: tuple[int, ...] = field(repr=False)
    unseen: tuple[int, ...] = field(repr=False)
    off_step: tuple[int, ...] = field(repr=False)


@dataclass(frozen=True, slots=True)
class ControlFound:
    """The control key that most cores agree on: under the sleeve by their control pins, elsewhere it carries
    the top master's cut. `bitting` is None where some position told nothing; `against` names cores with
    another control cut.
    """

    bitting: Bitting | None = field(repr=False)
    positions: tuple[tuple[tuple[int, int], ...], ...] = field(repr=False)
    against: tuple[str, ...]


@dataclass(frozen=True)
class Reconstruction:
    """What `reconstruct` found. `shares` holds every master that comes near, likeliest first."""

    format: CoreFormat
    cores: tuple[SeenCore, ...] = field(repr=False)
    keys: tuple[CircularKey, ...] = field(repr=False)
    shares: dict[Cuts, float] = field(repr=False)
    margin: float
    membership: dict[str, float] = field(repr=False)

    @property
    def best(self) -> Cuts:
        return next(iter(self.shares))

    @property
    def is_complete(self) -> bool:
        """False where so many masters come near that only the nearest were followed."""
        return self.margin == MARGINS[0]

    @property
    def entropy_bits(self) -> float:
        """How much is still open: 0 is settled, 1 is two masters alike."""
        return abs(sum(share * log2(share) for share in self.shares.values() if share > 0))

    @cached_property
    def members(self) -> tuple[SeenCore, ...]:
        """The cores that more likely belong to the system than not."""
        return tuple(core for core in self.cores if self.membership[core.name] >= 0.5)

    @cached_property
    def marginals(self) -> tuple[dict[int, float], ...]:
        """Per position, the chance of each cut to be the top master's, likeliest first."""
        columns: list[Counter[int]] = [Counter() for _ in range(self.format.positions)]
        for cuts, share in self.shares.items():
            for column, cut in zip(columns, cuts, strict=True):
                column[cut] += share  # type: ignore[assignment]
        return tuple(dict(column.most_common()) for column in columns)

    @cached_property
    def candidates(self) -> tuple[Candidate, ...]:
        """The likeliest first, at most twenty; from the fourth on only with a chance of 0.001 or more."""
        first = list(self.shares.items())[:SHOWN]
        worth = [cuts for n, (cuts, share) in enumerate(first) if n < ALWAYS_SHOWN or share >= WORTH_SHOWING]
        return tuple(self._candidate(cuts) for cuts in worth)

    def _candidate(self, cuts: Cuts) -> Candidate:
        turned = [core.name for core in self.cores if core.is_turned_by(cuts)]
        fails = [core.name for core in self.cores if not core.is_turned_by(cuts)]
        columns = tuple(self._supports(place, cut) for place, cut in enumerate(cuts))
        bitting = bitting_of(self.format, cuts)
        return Candidate(bitting, self.shares[cuts], tuple(turned), tuple(fails), columns)

    def _supports(self, place: int, own: int) -> tuple[Support, ...]:
        chances = self.marginals[place]
        open_cuts = [own, *(cut for cut, share in chances.items() if cut != own and share >= WORTH_SHOWING)]
        return tuple(Support(cut, self._holding(place, cut), chances[cut]) for cut in open_cuts)

    def _holding(self, place: int, cut: int) -> int:
        return sum(core.carries(place, cut) for core in self.cores)

    @cached_property
    def odd(self) -> tuple[Odd, ...]:
        """The cores that the likeliest master does not turn, with what each probably is."""
        found = []
        for core in self.cores:
            if missed := core.misses(self.best):
                found.append(Odd(core.name, self._why(core, missed), tuple(missed)))
        return tuple(found)

    def _why(self, core: SeenCore, missed: Sequence[int]) -> str:
        if self.membership[core.name] >= 0.5:
            near = _is_near(self.format, core, missed[0], self.best[missed[0] - 1])
            return "misread" if near and len(missed) == 1 else "doubtful"
        told = [
            (seen, column[0][0])
            for seen, column in zip(core.control or (), self.control_columns, strict=False)
            if seen is not None and column
        ]
        shared = sum(seen == usual for seen, usual in told)
        return "single" if told and shared >= len(told) - 1 else "foreign"

    @cached_property
    def key_parts(self) -> tuple[tuple[str, tuple[str, ...], str], ...]:
        """Per key, the cores it turns and what it seems to be: top, master, change or unknown."""
        parts = []
        for key in self.keys:
            turned = tuple(core.name for core in self.cores if core.is_turned_by(key.bitting.cuts))
            what = ("unknown", "change")[len(turned)] if len(turned) < 2 else "master"
            parts.append((key.name, turned, "top" if key.bitting.cuts == self.best else what))
        return tuple(parts)

    @cached_property
    def array(self) -> tuple[ArrayColumn, ...]:
        columns = []
        for place, master in enumerate(self.best):
            seen = frozenset().union(*(core.beside(place, master) for core in self.members))
            own = set(series(self.format, master)) - {master}
            columns.append(
                ArrayColumn(master, *(tuple(sorted(cuts)) for cuts in (seen & own, own - seen, seen - own)))
            )
        return tuple(columns)

    @cached_property
    def control_columns(self) -> tuple[tuple[tuple[int, int], ...], ...]:
        """Per position (control cut, how many cores have it), the most frequent first; () outside the sleeve.

        Members tell, or all cores where no member tells anything.
        """
        telling = [core for core in self.members if core.control] or [
            core for core in self.cores if core.control
        ]
        columns = []
        for place in range(self.format.positions):
            seen = Counter(core.control[place] for core in telling if core.control)
            ranked = sorted(seen.items(), key=lambda each: (-each[1], each[0] or 0))
            columns.append(tuple((cut, count) for cut, count in ranked if cut is not None))
        return tuple(columns)

    @cached_property
    def control(self) -> ControlFound | None:
        """None where the format has no sleeve."""
        if not self.format.sleeve:
            return None
        columns = self.control_columns
        cuts = [
            (columns[position - 1][0][0] if columns[position - 1] else None)
            if position in self.format.sleeve
            else self.best[position - 1]
            for position in range(1, self.format.positions + 1)
        ]
        known = [cut for cut in cuts if cut is not None]
        bitting = bitting_of(self.format, known) if len(known) == len(cuts) else None
        against = [core.name for core in self.cores if _differs(core, cuts)]
        return ControlFound(bitting, columns, tuple(against))


def _differs(core: SeenCore, control: Sequence[int | None]) -> bool:
    pairs = zip(core.control or (), control, strict=False)
    return any(seen not in (None, usual) for seen, usual in pairs)


def _is_near(format: CoreFormat, core: SeenCore, position: int, cut: int) -> bool:
    """Whether a cut read there lies one depth, or one step, from the master's."""
    return any(abs(seen - cut) in (1, format.step) for seen in core.columns[position - 1][0])


def reconstruct(
    format: CoreFormat, cores: Sequence[SeenCore], keys: Sequence[CircularKey] = ()
) -> Reconstruction:
    """The system behind these cores. Raises `Refused`: `no_cores`, or `too_large` where too many masters go
    with the evidence alike.
    """
    if not 0 < len(cores) <= MOST_CORES:
        message = said(
            "Give 1 to {most} decoded cores; {given} are given.", most=MOST_CORES, given=len(cores)
        )
        raise Refused([Refusal("no_cores", message)])
    rows = core_rows(format, cores)
    found = search(format, [*rows, *key_rows(format, keys, cores)])
    shares = shares_of(_with_habits(format, found, rows, cores))
    membership = {
        core.name: sum(share * row.first_way(cuts) for cuts, share in _heaviest(shares))
        for core, row in zip(cores, rows, strict=True)
    }
    return Reconstruction(format, tuple(cores), tuple(keys), shares, found.margin, membership)


def _heaviest(shares: dict[Cuts, float]) -> list[tuple[Cuts, float]]:
    """The likeliest masters, their shares scaled to add up to 1: enough to say who belongs."""
    chosen = list(shares.items())[:SHOWN]
    total = sum(share for _, share in chosen)
    return [(cuts, share / total) for cuts, share in chosen]


def _with_habits(
    format: CoreFormat, found: Found, rows: Sequence[Row], cores: Sequence[SeenCore]
) -> dict[Cuts, float]:
    return {
        cuts: score
        + usage(format, cuts, [c for c, row in zip(cores, rows, strict=True) if row.first_way(cuts) >= 0.5])
        for cuts, score in found.masters.items()
    }
