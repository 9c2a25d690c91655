"""What the page of a draft says of its levels."""

from dataclasses import dataclass
from math import prod

from django.utils.translation import gettext as _

from keyctl import engine
from keyctl.systems.models import SystemDraft


@dataclass(frozen=True)
class DraftLevel:
    """A level below the top: how many keys are asked for, how many fit, and what it takes."""

    number: int
    example: str
    positions: int
    held: int
    need: int
    asked: int
    least: int
    most: int
    all: int

    @property
    def left(self) -> int:
        """Room that stays when the keys asked for are made."""
        return self.all - self.asked


def levels_of(draft: SystemDraft) -> list[DraftLevel]:
    count = len(draft.needs) + 1
    return [
        DraftLevel(
            number=level,
            example=engine.key_symbol(count, (0,) * level),
            positions=draft.facts["positions"][level - 1],
            held=draft.facts["constants"][level - 1],
            need=draft.needs[level - 1],
            asked=prod(draft.needs[:level]),
            least=room["least"],
            most=room["most"],
            all=room["all"],
        )
        for level, room in enumerate(draft.rooms, 1)
    ]


def method_of(draft: SystemDraft) -> str:
    """The method in the trade's words, from what was drawn."""
    if any(draft.facts["constants"]):
        return _("Rotating constant")
    if draft.facts["idle_positions"]:
        return _("Partial position progression")
    return _("Total position progression")
