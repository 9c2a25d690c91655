"""Total position progression: change keys derived from a top master bitting.

A change key differs from the master in every position, and by a multiple of the format's step, so that two
cuts of a position are never too close for a master pin. The cuts left over per position are the key bitting
array; the sequence of progression says in which order the positions run through it, the first one named
changing fastest. Positions left out of the sequence hold the master's cut in every key.

>>> from pinning.bittings import parse_bitting
>>> from pinning.formats import load
>>> a2 = load("small-a2-6")
>>> master = parse_bitting(a2, "143254")
>>> progression = progress(a2, master)
>>> progression.total, progression[0].text, progression[1].text
(4096, '301010', '301012')
>>> progress(a2, master, rules=Rules(max_equal=2)).nth_usable(0).text
'301012'
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from math import prod

from pinning.abiding import keeps
from pinning.bittings import Bitting, bitting_of
from pinning.errors import Refusals
from pinning.formats import CoreFormat
from pinning.rules import NO_RULES, Rules, count_in_columns, nth_in_columns
from pinning.wording import said

__all__ = ["Progression", "key_bitting_array", "progress"]


Array = tuple[tuple[int, ...], ...]


def key_bitting_array(format: CoreFormat, master: Bitting) -> Array:
    """Per position, what a change key may carry: the depths of the master's series but the master's own."""
    return tuple(
        tuple(cut for cut in format.depth_values if cut != own and (cut - own) % format.step == 0)
        for own in master.cuts
    )


@dataclass(frozen=True, slots=True)
class Progression:
    """The bittings that take the array's cuts in `sequence` and the `held` cuts elsewhere, by index.

    Indexes count every combination; `usable` leaves out those that break the adjacent-cut limit or the
    further `rules`.
    """

    format: CoreFormat
    held: Bitting
    array: Array
    sequence: tuple[int, ...]
    rules: Rules = NO_RULES

    @property
    def total(self) -> int:
        """All combinations, legal or not."""
        return prod(len(self.array[position - 1]) for position in self.sequence)

    @property
    def limits(self) -> Rules:
        """The rules with the format's adjacent-cut limit."""
        return replace(self.rules, macs=self.format.macs)

    @property
    def columns(self) -> Array:
        """Per position the cuts that the keys may carry there."""
        return tuple(
            self.array[place] if place + 1 in self.sequence else (cut,)
            for place, cut in enumerate(self.held.cuts)
        )

    @property
    def usable_total(self) -> int:
        """The combinations that keep to the rules, counted without listing them."""
        return count_in_columns(self.columns, self.limits)

    def __len__(self) -> int:
        return self.total

    def __getitem__(self, index: int) -> Bitting:
        """The bitting of that index, from 0; raises IndexError outside the progression."""
        if not 0 <= index < self.total:
            raise IndexError(f"index {index} is outside a progression of {self.total}")
        return of_cuts(self.format, self._cuts(index))

    def between(self, first: int, end: int) -> Iterator[Bitting]:
        """The bittings of the indexes from `first` to before `end`, as far as there are any."""
        for index in range(max(first, 0), min(end, self.total)):
            yield of_cuts(self.format, self._cuts(index))

    def _cuts(self, index: int) -> tuple[int, ...]:
        cuts = list(self.held.cuts)
        for position in self.sequence:
            column = self.array[position - 1]
            index, turn = divmod(index, len(column))
            cuts[position - 1] = column[turn]
        return tuple(cuts)

    def usable(self) -> Iterator[Bitting]:
        """The bittings that may be cut, in the order of progression."""
        limits = self.limits
        for index in range(self.total):
            cuts = self._cuts(index)
            if keeps(limits, cuts):
                yield of_cuts(self.format, cuts)

    def nth_usable(self, index: int) -> Bitting:
        """The usable bitting of that rank, from 0, without walking through those before it.

        Raises IndexError outside.
        """
        if index < 0:
            raise IndexError(f"index {index} is outside {self.usable_total} usable bittings")
        if self.limits == NO_RULES:
            return self[index]
        order = [position - 1 for position in reversed(self.sequence)]
        return of_cuts(self.format, nth_in_columns(self.columns, order, self.limits, index))


def is_within_limit(format: CoreFormat, cuts: Sequence[int]) -> bool:
    macs = format.macs
    return macs is None or all(abs(b - a) <= macs for a, b in pairwise(cuts))


def of_cuts(format: CoreFormat, cuts: tuple[int, ...]) -> Bitting:
    return Bitting(cuts, "".join(map(format.symbol_of, cuts)))


def progress(
    format: CoreFormat,
    master: Bitting,
    array: Sequence[Sequence[int]] | None = None,
    sequence: Sequence[int] | None = None,
    rules: Rules | None = None,
) -> Progression:
    """The progression under a master. Without `array`, the full one; without `sequence`, the last position
    first. The limit of adjacent cuts is the format's, whatever `rules` say of it.

    Raises `Refused` (codes `length`, `depth`, `macs`, `array`, `sequence`).
    """
    order = tuple(range(format.positions, 0, -1)) if sequence is None else tuple(sequence)
    refusals = Refusals()
    refuse_master(format, master, refusals)
    checked = checked_array(format, master, array, refusals)
    refuse_positions("sequence", order, format.positions, refusals)
    refusals.stop()
    return Progression(format, master, checked, order, rules or NO_RULES)


def refuse_master(format: CoreFormat, master: Bitting, refusals: Refusals) -> None:
    if len(master.cuts) == format.positions and not is_within_limit(format, master.cuts):
        message = said(
            "The master breaks the adjacent-cut limit of {limit}; choose another.", limit=str(format.macs)
        )
        refusals.add("macs", message)
    bitting_of(format, master.cuts)


def checked_array(
    format: CoreFormat, master: Bitting, array: Sequence[Sequence[int]] | None, refusals: Refusals
) -> Array:
    full = key_bitting_array(format, master)
    if array is None:
        return full
    if len(array) != format.positions:
        message = said(
            "The array has {columns} columns; give {positions}.",
            columns=len(array),
            positions=format.positions,
        )
        refusals.add("array", message)
    for position, (column, allowed) in enumerate(zip(array, full, strict=False), 1):
        for cut in sorted(set(column) - set(allowed)):
            refusals.add(
                "array",
                said(
                    "Position {position}: {cut} cannot stand in the array; it must be a depth other than the "
                    "master's and a multiple of {step} away from it.",
                    position=position,
                    cut=cut,
                    step=format.step,
                ),
                position,
            )
    return tuple(tuple(dict.fromkeys(column)) for column in array)


def refuse_positions(code: str, found: Sequence[int], positions: int, refusals: Refusals) -> None:
    if len(set(found)) < len(found) or not set(found) <= set(range(1, positions + 1)):
        message = said(
            "Name positions from 1 to {positions}, each at most once, not {found}.",
            positions=positions,
            found=str(list(found)),
        )
        refusals.add(code, message)
