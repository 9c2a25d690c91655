"""How far a case is: its steps in their order, those before one done, that one in hand."""

from collections.abc import Sequence
from dataclasses import dataclass

from keyctl.lib.language import Text


@dataclass(frozen=True)
class Stage:
    label: Text
    is_done: bool
    is_current: bool


def stages_at(labels: Sequence[Text], reached: int) -> list[Stage]:
    """Past the last one all are done.

    >>> [(step.is_done, step.is_current) for step in stages_at(["Report", "Prove"], 1)]
    [(True, False), (False, True)]
    """
    return [Stage(label, nth < reached, nth == reached) for nth, label in enumerate(labels)]
