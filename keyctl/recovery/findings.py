"""What measured cores say of their control key, position by position. As secret as a bitting."""

import json
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Self

from keyctl import engine

Cuts = tuple[tuple[int, ...], ...]


@dataclass(frozen=True)
class Finding:
    """One core: the pins taken out, and per position the cuts its control key can have.

    Under a sleeve that is one cut; elsewhere the control key carries any operating cut of the core.
    """

    pins: Cuts
    cuts: Cuts

    @classmethod
    def of(cls, reading: "engine.Reading") -> Self:
        return cls(
            pins=tuple(tuple(size for _, size in stack.pins) for stack in reading.stacks),
            cuts=tuple(tuple(cuts) for cuts in reading.control_cuts),
        )

    @classmethod
    def restore(cls, text: str) -> Self:
        stored = json.loads(text)
        return cls(pins=_cuts(stored["pins"]), cuts=_cuts(stored["cuts"]))

    def dump(self) -> str:
        return json.dumps({"pins": self.pins, "cuts": self.cuts}, separators=(",", ":"))


def common_cuts(findings: Sequence[Finding]) -> Cuts:
    """Per position, the cuts that every core allows; empty where the cores contradict each other."""
    columns = zip(*(finding.cuts for finding in findings), strict=True)
    return tuple(tuple(sorted(set.intersection(*map(set, column)))) for column in columns)


def contradictions(findings: Sequence[Finding]) -> list[int]:
    """The positions, counted from 1, in which no cut suits all cores."""
    return [position for position, cuts in enumerate(common_cuts(findings), start=1) if not cuts]


def dump_cuts(cuts: Cuts) -> str:
    return json.dumps(cuts, separators=(",", ":"))


def restore_cuts(text: str) -> Cuts:
    return _cuts(json.loads(text))


def signs(format_id: str, cuts: Sequence[int]) -> list[str]:
    """The cuts as the format's depths are written on a key."""
    chosen = engine.load_format(format_id)
    return [chosen.depths[chosen.depth_values.index(cut)] for cut in cuts]


def _cuts(stored: Sequence[Sequence[int]]) -> Cuts:
    return tuple(tuple(column) for column in stored)
