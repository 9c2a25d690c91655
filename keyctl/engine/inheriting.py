"""Keys and cores brought in from elsewhere: what is wrong with a list's key, and systems reconstructed."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from django.utils.translation import gettext_lazy

import pinning.evidence
import pinning.inference
import pinning.reading
from keyctl.engine.formats import load_format
from keyctl.engine.refusals import refusing
from pinning.advice import Advice, OpenCore, advise
from pinning.bittings import parse_any_bitting, refusals_of
from pinning.evidence import CircularKey, SeenCore
from pinning.inference import Candidate, Reconstruction
from pinning.levels import Levels, LikelyMaster, find_levels
from pinning.stacks import Pinning
from pinning.symbols import direct_change, key_symbol

__all__ = [
    "Candidate",
    "LikelyMaster",
    "Reconstructed",
    "SeenCore",
    "faults_of_key",
    "positions_off_step",
    "reconstruct",
    "seen_cuts",
    "seen_pins",
    "symbol_for",
]


def faults_of_key(format_id: str, text: str) -> list[tuple[str, int | None]]:
    """(code, position) of each reason why this is no key: length, depth, macs. The reasons hold no cut."""
    return [(refusal.code, refusal.position) for refusal in refusals_of(load_format(format_id), text)]


def positions_off_step(format_id: str, text: str, above: str) -> list[int]:
    """Where two keys cannot stand in one core, since their cuts are of different series."""
    chosen = load_format(format_id)
    own, other = parse_any_bitting(chosen, text).cuts, parse_any_bitting(chosen, above).cuts
    pairs = enumerate(zip(own, other, strict=True), 1)
    return [position for position, (a, b) in pairs if (a - b) % chosen.step]


def symbol_for(levels: int, path: Sequence[int], *, is_master: bool) -> str:
    """The standard symbol of a key at that place: a change right below a master, or a master."""
    if is_master or not path:
        return key_symbol(levels, path)
    return direct_change(levels, path[:-1], path[-1])


@dataclass(frozen=True, slots=True)
class Reconstructed:
    """What decoded cores and keys say of the system behind them."""

    found: Reconstruction = field(repr=False)
    levels: Levels = field(repr=False)
    advice: tuple[Advice, ...]


def seen_pins(name: str, pinned: Pinning, group: str | None = None) -> SeenCore:
    """A core whose pins are on record."""
    return pinning.evidence.seen_reading(name, pinning.reading.read_stacks(pinned.format, pinned), group)


def seen_cuts(
    format_id: str,
    name: str,
    columns: Sequence[str],
    control: str | None = None,
    group: str | None = None,
) -> SeenCore:
    """A core by its cuts: per position their symbols, ["35", "2", ...]; None among them cannot be."""
    chosen = load_format(format_id)
    numbers = [[chosen.number_of(symbol) for symbol in column] for column in columns]
    cuts = tuple((frozenset(cut for cut in column if cut is not None),) for column in numbers)
    under = None
    if control is not None and chosen.sleeve:
        read = parse_any_bitting(chosen, control).cuts
        under = tuple(cut if place in chosen.sleeve else None for place, cut in enumerate(read, 1))
    return SeenCore(name, cuts, under, None, group)


@refusing(gettext_lazy("No system can be made out from this."))
def reconstruct(
    format_id: str,
    cores: Sequence[SeenCore],
    keys: Mapping[str, str],
    open_cores: Sequence[tuple[str, str | None]] = (),
) -> Reconstructed:
    chosen = load_format(format_id)
    held = [CircularKey(name, parse_any_bitting(chosen, text, name)) for name, text in keys.items()]
    found = pinning.inference.reconstruct(chosen, cores, held)
    looks = advise(found, [OpenCore(label, group) for label, group in open_cores])
    return Reconstructed(found, find_levels(found), looks)
