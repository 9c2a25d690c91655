"""Cores that stand in a door for a time, as building work needs them, and the day they must leave."""

from typing import Self

from django.conf import settings
from django.db import models
from django.db.models import F, Q
from django.utils import timezone

from keyctl.cores.models import Core
from keyctl.lib.records import Record
from keyctl.places.models import Housing, Site


class InterimQuerySet(models.QuerySet["Interim"]):
    def at_sites(self, sites: "models.QuerySet[Site]") -> Self:
        return self.filter(site__in=sites)

    def standing(self) -> Self:
        """Marks whose core is still in the housing it was marked in."""
        return self.filter(ended_at__isnull=True, core__housing=F("housing"))

    def with_names(self) -> Self:
        return self.select_related(
            "core", "site", "housing__door__floor__building__site", "marked_by", "ended_by"
        )


class Interim(Record):
    """One core in one housing until a day: it ends when the core leaves, or when it is said that it stays."""

    core = models.ForeignKey(Core, on_delete=models.PROTECT, related_name="interims")
    housing = models.ForeignKey(Housing, on_delete=models.PROTECT, related_name="interims")
    site = models.ForeignKey(Site, on_delete=models.PROTECT, related_name="interims")
    until = models.DateField()
    why = models.CharField(max_length=200)
    marked_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    marked_at = models.DateTimeField(default=timezone.now)
    ended_at = models.DateTimeField(null=True)
    # Nobody where the core left.
    ended_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, related_name="+"
    )
    outcome = models.CharField(max_length=200, blank=True)
    version = models.PositiveIntegerField(default=1)

    objects = InterimQuerySet.as_manager()

    class Meta:
        ordering = ["until", "marked_at"]
        constraints = [
            models.UniqueConstraint(
                fields=["core"], condition=Q(ended_at__isnull=True), name="core_has_one_day_to_leave"
            ),
            models.CheckConstraint(condition=~Q(why=""), name="interim_core_says_why"),
            models.CheckConstraint(
                condition=Q(ended_at__isnull=True, ended_by__isnull=True, outcome="")
                | (Q(ended_at__isnull=False) & ~Q(outcome="")),
                name="interim_core_end_says_how",
            ),
        ]
        indexes = [models.Index(fields=["site", "ended_at", "until"], name="interim_by_day")]

    def __str__(self) -> str:
        return f"Core {self.core} until {self.until:%-d %b %Y}"

    @property
    def is_overdue(self) -> bool:
        return self.until < timezone.localdate()
