"""Lock charts: which keys shall open which locks, and the bittings that do it."""

from typing import Any

from django.conf import settings
from django.db import models
from django.db.models import Q
from django.utils import timezone
from django.utils.translation import gettext_lazy

from keyctl.lib.records import Record
from keyctl.places.models import Site
from keyctl.systems.models import KeySystem
from keyctl.vault.fields import SealedField


class LockChart(Record):
    """A chart on its way to a key system.

    ``keys`` are names and ``locks`` name theirs: no cut stands in them. The bittings of keys in use are
    sealed in ``kept``, what a solved chart's keys are cut to in ``answer``. ``findings`` hold sentences about
    keys and locks, never a cut.
    """

    class State(models.TextChoices):
        DRAFT = "draft", gettext_lazy("Being drawn")
        SOLVED = "solved", gettext_lazy("Solved")
        IMPOSSIBLE = "impossible", gettext_lazy("Impossible")
        UNKNOWN = "unknown", gettext_lazy("Not solved in time")
        USED = "used", gettext_lazy("Made into a key system")

    site = models.ForeignKey(Site, on_delete=models.PROTECT, related_name="lock_charts")
    name = models.CharField(max_length=120)
    format_id = models.CharField(max_length=40)
    keyway = models.CharField(max_length=20)
    state = models.CharField(max_length=10, choices=State, default=State.DRAFT)
    version = models.PositiveIntegerField(default=1)
    keys = models.JSONField(default=list)
    # [{"id": "101", "opens": ["M", "A"], "may": []}], in the order of their rows.
    locks = models.JSONField(default=list)
    rules = models.JSONField(default=dict)
    kept = SealedField()
    # Names of the keys whose bittings are kept.
    kept_keys = models.JSONField(default=list)
    answer = SealedField(null=True)
    findings = models.JSONField(default=dict)
    system = models.OneToOneField(KeySystem, on_delete=models.PROTECT, null=True, related_name="lock_chart")
    created_at = models.DateTimeField(default=timezone.now)
    created_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")

    class Meta:
        ordering = ["-created_at", "-pk"]
        constraints = [
            models.CheckConstraint(
                condition=Q(state__in=["solved", "used"], answer__isnull=False)
                | Q(state__in=["draft", "impossible", "unknown"], answer__isnull=True),
                name="lock_chart_holds_an_answer_once_solved",
            ),
            models.CheckConstraint(
                condition=Q(state="used", system__isnull=False) | (~Q(state="used") & Q(system__isnull=True)),
                name="lock_chart_names_the_system_made_of_it",
            ),
        ]

    def __str__(self) -> str:
        return self.name

    @property
    def is_open(self) -> bool:
        """Whether it can still be changed."""
        return self.state != self.State.USED

    @property
    def pairs(self) -> int:
        return len(self.keys) * len(self.locks)

    def mapping(self, kept: dict[str, Any]) -> dict[str, Any]:
        """The chart as the engine reads it; ``kept`` is what was unsealed."""
        bittings = kept.get("bittings", {})
        return {
            "keys": [{"id": key, "bitting": bittings.get(key)} for key in self.keys],
            "locks": self.locks,
            "rules": {"distinct": True} | self.rules,
            "control": kept.get("control"),
        }
