"""What a count and the register do not agree on, until somebody has explained it and it is closed."""

from typing import Self

from django.conf import settings
from django.db import models
from django.db.models import F, Q
from django.utils import timezone
from django.utils.translation import gettext_lazy

from keyctl.counts.models.counting import Count
from keyctl.keys.models import Cabinet, Holder, KeyCopy
from keyctl.lib.records import Record
from keyctl.lib.tags import grouped
from keyctl.places.models import Site


class CountCaseQuerySet(models.QuerySet["CountCase"]):
    def at_sites(self, sites: "models.QuerySet[Site]") -> Self:
        return self.filter(count__site__in=sites)

    def with_names(self) -> Self:
        return self.select_related(
            "count__site",
            "count__cabinet",
            "count__holder",
            "count__rule",
            "copy__symbol__system",
            "cabinet",
            "holder",
            "counted_by",
            "explained_by",
            "closed_by",
        )


class CountCase(Record):
    class Kind(models.TextChoices):
        MISSING = "missing", gettext_lazy("Missing")
        MISPLACED = "misplaced", gettext_lazy("Found where it should not be")
        UNKNOWN = "unknown", gettext_lazy("Unknown serial")
        LOST_FOUND = "lost-found", gettext_lazy("A lost copy was found")
        DESTROYED_FOUND = "destroyed-found", gettext_lazy("A destroyed copy was found")

    class State(models.TextChoices):
        OPEN = "open", gettext_lazy("Open")
        EXPLAINED = "explained", gettext_lazy("Explained")
        CLOSED = "closed", gettext_lazy("Closed")

    class How(models.TextChoices):
        OVERLOOKED = "overlooked", gettext_lazy("It was there and was overlooked")
        MOVED = "moved", gettext_lazy("The register follows: move it to the cabinet")
        RETURNED = "returned", gettext_lazy("The register follows: take it back into the cabinet")
        FOUND = "found", gettext_lazy("The register follows: take the lost copy into the cabinet")
        PUT_BACK = "put-back", gettext_lazy("It was put back where the register has it")
        LOST = "lost", gettext_lazy("It is gone: report it lost")
        AT_THE_DESK = "desk", gettext_lazy("Set right at the desk by an act of its own")
        NOT_OURS = "not-ours", gettext_lazy("No key of this site, or misread")
        DESTROYED_NOW = "destroyed-now", gettext_lazy("It was destroyed again, before two people")

    count = models.ForeignKey(Count, on_delete=models.PROTECT, related_name="cases")
    kind = models.CharField(max_length=16, choices=Kind)
    serial = models.CharField(max_length=40)
    copy = models.ForeignKey(KeyCopy, on_delete=models.PROTECT, null=True, related_name="count_cases")
    # Where the register had it.
    cabinet = models.ForeignKey(Cabinet, on_delete=models.PROTECT, null=True, related_name="+")
    holder = models.ForeignKey(Holder, on_delete=models.PROTECT, null=True, related_name="+")
    is_declared = models.BooleanField(default=False)
    # A master key, or a key of a critical door: the counter does not close it alone.
    is_weighty = models.BooleanField(default=False)
    counted_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    opened_at = models.DateTimeField(default=timezone.now)
    state = models.CharField(max_length=10, choices=State, default=State.OPEN)
    how = models.CharField(max_length=14, choices=How, blank=True)
    note = models.CharField(max_length=400, blank=True)
    explained_at = models.DateTimeField(null=True)
    explained_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, related_name="+"
    )
    closed_at = models.DateTimeField(null=True)
    closed_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, related_name="+"
    )
    version = models.PositiveIntegerField(default=1)

    objects = CountCaseQuerySet.as_manager()

    class Meta:
        ordering = ["opened_at", "serial"]
        constraints = [
            models.UniqueConstraint(
                fields=["count", "serial", "kind"], name="count_differs_about_a_serial_once"
            ),
            models.CheckConstraint(
                condition=Q(state="open", explained_at__isnull=True, explained_by__isnull=True, how="")
                | Q(state__in=["explained", "closed"], explained_at__isnull=False, explained_by__isnull=False)
                & ~Q(how=""),
                name="count_case_explanation_says_how_and_by_whom",
            ),
            models.CheckConstraint(
                condition=Q(state__in=["open", "explained"], closed_at__isnull=True, closed_by__isnull=True)
                | Q(state="closed", closed_at__isnull=False, closed_by__isnull=False),
                name="count_case_closing_says_who_and_when",
            ),
            models.CheckConstraint(
                condition=Q(is_weighty=False) | ~Q(closed_by=F("counted_by")),
                name="who_counted_does_not_close_a_weighty_case",
            ),
            models.CheckConstraint(
                condition=Q(kind="unknown", copy__isnull=True) | ~Q(kind="unknown") & Q(copy__isnull=False),
                name="count_case_names_a_copy_that_is_known",
            ),
        ]
        indexes = [models.Index(fields=["state", "opened_at"], name="count_case_by_state")]

    def __str__(self) -> str:
        return f"{self.get_kind_display()}: {self.label}"

    @property
    def label(self) -> str:
        return grouped(self.serial)

    @property
    def place(self) -> str:
        """Where the register had the copy when it was looked for or scanned."""
        if self.cabinet:
            return f"in {self.cabinet}"
        return f"with {self.holder}" if self.holder else "nowhere"
