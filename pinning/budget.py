"""A bound on the work of an exact count, so that no input can keep a machine busy or fill its memory.

>>> budget = Budget(3, said("The count"), said("Ask for less."))
>>> budget.spend(2)
>>> budget.spend(2)
Traceback (most recent call last):
...
pinning.errors.Refused: The count takes more than 3 steps. Ask for less.
"""

from pinning.errors import Refusal, Refused
from pinning.wording import Said, said

__all__ = ["Budget"]


class Budget:
    """So many steps, each a few hundred bytes and a microsecond or so; `spend` refuses with `too_large`."""

    def __init__(self, steps: int, work: Said, remedy: Said) -> None:
        self._steps, self._left = steps, steps
        self._work, self._remedy = work, remedy

    def spend(self, steps: int) -> None:
        self._left -= steps
        if self._left < 0:
            message = said(
                "{work} takes more than {steps} steps. {remedy}",
                work=self._work,
                steps=self._steps,
                remedy=self._remedy,
            )
            raise Refused([Refusal("too_large", message)])
