"""The self-proof in words: which cuts no pins of the kit can serve, put together by reason."""

import re
from collections import defaultdict
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from functools import lru_cache
from itertools import count

from django.utils.translation import get_language
from django.utils.translation import gettext as _

from keyctl import engine
from keyctl.engine import CoreFormat
from keyctl.formats.sizes import sizes_text
from keyctl.formats.wording import positions_words

Pair = tuple[int, int | None]


@dataclass(frozen=True)
class Finding:
    """One reason, where it holds, and for which cuts; ``count`` is cuts times positions."""

    reason: str
    where: str
    cuts: tuple[str, ...]
    count: int


@dataclass(frozen=True)
class SelfProof:
    tried: int
    impossible: int
    findings: tuple[Finding, ...]

    @property
    def possible(self) -> int:
        return self.tried - self.impossible


@dataclass
class _Case:
    """What speaks against the cuts of one position in the same words, but for the size that is wanted."""

    pairs: set[Pair] = field(default_factory=set)
    wanted: set[int] = field(default_factory=set)


def self_proof(format: CoreFormat) -> SelfProof:
    """Every operating cut with every control cut of each position, tried through pin and turn."""
    return _proof_in(get_language(), format)


# The same figures always prove the same; a live check often asks again after a mere change of name.
@lru_cache(maxsize=200)
def _proof_in(_language: str | None, format: CoreFormat) -> SelfProof:
    """What is kept holds words, so each language has its own."""
    proof = engine.prove_format(engine.format_parameters(format))
    cases: dict[tuple[str, int], _Case] = defaultdict(_Case)
    for each in proof.impossible:
        for told in each.reasons:
            # Reasons that differ only in the pin they want are told together.
            reason, size = engine.say_open(told, "size")
            case = cases[reason, each.position]
            case.pairs.add((each.operating, each.control))
            if isinstance(size, int):
                case.wanted.add(size)
    failed = {(each.position, each.operating, each.control) for each in proof.impossible}
    return SelfProof(proof.tried, len(failed), tuple(_findings(format, cases)))


def _findings(format: CoreFormat, cases: dict[tuple[str, int], _Case]) -> Iterator[Finding]:
    """Positions where the same cuts fail for the same reason stand together."""
    alike: dict[tuple[str, frozenset[Pair]], list[int]] = defaultdict(list)
    for (reason, position), case in cases.items():
        alike[reason.replace("{}", _wanted_text(case.wanted)), frozenset(case.pairs)].append(position)
    for (reason, pairs), positions in alike.items():
        yield Finding(
            reason=_capital(reason),
            where=_capital(positions_words(tuple(positions))),
            cuts=tuple(_folded(format, pairs)),
            count=len(pairs) * len(positions),
        )


def _capital(words: str) -> str:
    return words[:1].upper() + words[1:]


def _wanted_text(sizes: set[int]) -> str:
    """A single size as it is; sizes that no pin can have are told by their upper end."""
    if len(sizes) == 1:
        return str(*sizes)
    if min(sizes, default=1) > 0:
        return sizes_text(sizes)
    edge = next(size for size in count() if size + 1 not in sizes)
    above = sizes_text(size for size in sizes if size > edge)
    if above:
        return _("{edge} or less, or {above},").format(edge=edge, above=above)
    return _("{edge} or less").format(edge=edge)


def _folded(format: CoreFormat, pairs: frozenset[Pair]) -> Iterable[str]:
    """Control cuts that fail with the same operating cuts are named together."""
    by_control: dict[int | None, set[int]] = defaultdict(set)
    for operating, control in pairs:
        by_control[control].add(operating)
    alike: dict[frozenset[int], list[int]] = defaultdict(list)
    for control, operating_cuts in by_control.items():
        alike[frozenset(operating_cuts)] += [] if control is None else [control]
    for served, controls in sorted(alike.items(), key=lambda item: min(item[1], default=0)):
        words = _("operating {operating}").format(operating=symbols_text(format, served))
        if controls:
            words = _("{words} with control {control}").format(
                words=words, control=symbols_text(format, controls)
            )
        yield words


def symbols_text(format: CoreFormat, cuts: Iterable[int]) -> str:
    """Cuts by their symbols, neighbours as a run: 1-9, 0 where 0 is the deepest is '1-0'."""
    places = sizes_text(map(format.depth_values.index, cuts))
    return re.sub(r"\d+", lambda place: format.depths[int(place[0])], places)
