"""What was tried and seen: the points of a checklist at a door, and the keys tried in a core at the bench."""

from django.conf import settings
from django.db import models
from django.db.models import Q
from django.utils import timezone
from django.utils.translation import gettext_lazy

from keyctl.lib.language import in_sentence
from keyctl.lib.records import Record
from keyctl.orders.models.lines import OrderLine
from keyctl.systems.models import KeySymbol


class Check(Record):
    """One point of a checklist as it was worded then, and what was found."""

    class Found(models.TextChoices):
        GOOD = "good", gettext_lazy("Good")
        BAD = "bad", gettext_lazy("Bad")
        NOT_APPLICABLE = "not_applicable", gettext_lazy("Does not apply")

    line = models.ForeignKey(OrderLine, on_delete=models.CASCADE, related_name="checks")
    ordinal = models.PositiveSmallIntegerField()
    key = models.CharField(max_length=30)
    label = models.CharField(max_length=160)
    found = models.CharField(max_length=14, choices=Found)

    class Meta:
        ordering = ["line", "ordinal"]
        constraints = [
            models.UniqueConstraint(fields=["line", "key"], name="point_is_checked_once_a_line"),
            models.CheckConstraint(
                condition=Q(found__in=["good", "bad", "not_applicable"]), name="check_finds_something_known"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.label}: {in_sentence(self.get_found_display())}"


class TryOut(Record):
    """A core of a pin order was tried at the bench, or somebody let it leave untried and says why."""

    class Outcome(models.TextChoices):
        GOOD = "good", gettext_lazy("Every key did what it should")
        WRONG = "wrong", gettext_lazy("A key did something else")
        UNTRIED = "untried", gettext_lazy("Left untried")

    line = models.ForeignKey(OrderLine, on_delete=models.CASCADE, related_name="try_outs")
    outcome = models.CharField(max_length=8, choices=Outcome)
    why = models.CharField(max_length=300, blank=True)
    at = models.DateTimeField(default=timezone.now)
    by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")

    class Meta:
        ordering = ["at"]
        constraints = [
            models.CheckConstraint(
                condition=~Q(outcome="untried") | ~Q(why=""), name="core_left_untried_says_why"
            )
        ]

    def __str__(self) -> str:
        return f"{self.line}: {in_sentence(self.get_outcome_display())}"


class KeyTried(Record):
    """What a key was to do in the core by its pins, and what it did in somebody's hand."""

    class Effect(models.TextChoices):
        TURNS = "turns", gettext_lazy("Turns the core")
        WITHDRAWS = "withdraws", gettext_lazy("Takes the core out")
        NOTHING = "nothing", gettext_lazy("Does nothing")

    try_out = models.ForeignKey(TryOut, on_delete=models.CASCADE, related_name="keys")
    symbol = models.ForeignKey(KeySymbol, on_delete=models.PROTECT, related_name="+")
    expected = models.CharField(max_length=9, choices=Effect)
    found = models.CharField(max_length=9, choices=Effect)

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["try_out", "symbol"], name="key_is_tried_once_in_a_try_out")
        ]

    def __str__(self) -> str:
        return f"{self.symbol}: {in_sentence(self.get_found_display())}"
