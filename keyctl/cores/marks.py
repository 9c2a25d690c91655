"""The marks of a chart: what a key does to a core by the pins, beside what it is planned to do."""

from django.db.models import TextChoices
from django.utils.translation import gettext_lazy

from keyctl.systems.models import KeySymbol


class Mark(TextChoices):
    """Each has a shape of its own: none is told from another by colour alone."""

    TURNS = "turns", gettext_lazy("turns it, as planned")
    TURNS_UNPLANNED = "turns-unplanned", gettext_lazy("turns it, and is not planned to")
    DOES_NOT = "does-not", gettext_lazy("is planned for it, and the pins do not let it")
    TAKES_OUT = "takes-out", gettext_lazy("takes the core out, as planned")
    TAKES_OUT_UNPLANNED = "takes-out-unplanned", gettext_lazy("takes the core out, and should not")
    WAITS = "waits", gettext_lazy("is planned; the core is not pinned yet")


def mark_of(
    key: KeySymbol, *, is_planned: bool, is_pinned: bool, turn: tuple[bool, bool] | None
) -> Mark | None:
    """``turn`` is (turns the plug, takes the core out) by the pins, None where the key does nothing."""
    if turn is None:
        return _unfulfilled(is_pinned) if is_planned else None
    operates, withdraws = turn
    if withdraws:
        is_meant = key.is_control and is_planned and not operates
        return Mark.TAKES_OUT if is_meant else Mark.TAKES_OUT_UNPLANNED
    return Mark.TURNS if is_planned and not key.is_control else Mark.TURNS_UNPLANNED


def _unfulfilled(is_pinned: bool) -> Mark:
    return Mark.DOES_NOT if is_pinned else Mark.WAITS
