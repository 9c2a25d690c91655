"""Growing a system: the next free change below a master, and what it brings with it."""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field
from functools import cache, partial

from django.utils.translation import gettext_lazy

from keyctl.engine.designs import Design
from keyctl.engine.formats import load_format
from keyctl.engine.refusals import refusing
from pinning.bittings import Bitting, parse_any_bitting
from pinning.errors import Refused as RefusedByPinning
from pinning.extending import POLICIES, Surroundings, choose
from pinning.formats import CoreFormat
from pinning.incidental import incidental_total
from pinning.progression import progress
from pinning.shear import operating_cuts, withdrawing_cuts
from pinning.stacks import Pinning

__all__ = ["POLICIES", "Estate", "Grown", "differing_positions", "next_changes", "unplanned_before"]


@dataclass(frozen=True)
class Estate:
    """The keys and cores around a new change, as text: ``keys`` are all operating keys that enter its core,
    ``cores`` those it enters, ``planned`` the operating keys of each core that is meant but not pinned yet.
    """

    format_id: str
    control: str | None = field(repr=False)
    keys: Sequence[str] = field(repr=False)
    cores: Sequence[Pinning] = field(repr=False)
    planned: Sequence[Sequence[str]] = field(repr=False)


@dataclass(frozen=True)
class Grown:
    """A chosen bitting. ``nearest`` is (positions, depths in sum) to the nearest key."""

    bitting: str = field(repr=False)
    nearest: tuple[int, int] | None
    incidental: int


@refusing(gettext_lazy("No further key can be made here."))
def next_changes(
    estate: Estate,
    above: Sequence[str],
    design: Design | None,
    free_positions: Sequence[int],
    *,
    level: int,
    policy: str,
    count: int,
) -> list[Grown]:
    """The next free bittings below the first key of ``above``, one after the other.

    With a design they come from its progression below a key of that ``level``; without, from the depths that
    are a step or more from the master's in the ``free_positions``.
    """
    chosen = load_format(estate.format_id)
    read = cache(partial(parse_any_bitting, chosen))  # the masters come again with every core
    masters = list(map(read, above))
    surroundings = Surroundings(
        chosen,
        masters,
        None if estate.control is None else read(estate.control),
        map(read, estate.keys),
        cores=map(operating_cuts, estate.cores),
        sleeves=map(withdrawing_cuts, estate.cores),
        planned=(list(map(read, keyed)) for keyed in estate.planned),
    )
    found = []
    for _ in range(count):
        choice = choose(surroundings, _candidates(chosen, masters[0], design, level, free_positions), policy)
        surroundings.take(choice.bitting)
        found.append(Grown(choice.bitting.text, choice.nearest, choice.incidental))
    return found


def unplanned_before(estate: Estate) -> int | None:
    """How many bittings turn one of the cores and are none of the keys; None where too many to count."""
    chosen = load_format(estate.format_id)
    keys = [parse_any_bitting(chosen, text) for text in estate.keys]
    try:
        return incidental_total(estate.cores, keys)
    except RefusedByPinning:
        return None


def differing_positions(one: str, others: Iterable[str]) -> list[int]:
    """The positions in which some of the other keys differ from this one."""
    rows = list(others)
    return [place for place, cut in enumerate(one, 1) if any(other[place - 1] != cut for other in rows)]


def _candidates(
    chosen: CoreFormat, master: Bitting, design: Design | None, level: int, positions: Sequence[int]
) -> Iterator[Bitting]:
    if design is None:
        yield from progress(chosen, master, sequence=sorted(positions, reverse=True)).usable()
    elif level < len(design.tree.groups):
        yield from design.tree.children_of(master, level).usable()
