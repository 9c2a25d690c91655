"""What a site says about requests: which doors people may ask for, and how keys are collected."""

from django.db import models
from django.db.models import Q
from django.utils.translation import gettext_lazy

from keyctl.keys.models import Cabinet
from keyctl.lib.records import Record
from keyctl.places.models import Site

MOST_COLLECT_DAYS = 90


class RequestSettings(Record):
    """One row a site; a site without one goes by the defaults. See ``knowing`` for what they mean."""

    class Critical(models.TextChoices):
        """Who may know of a critical door, other than those who work with the estate."""

        HELD = "held", gettext_lazy("Whoever holds a key to it, or whose department does")
        NOBODY = "nobody", gettext_lazy("Nobody else")
        EVERYBODY = "everybody", gettext_lazy("Everybody with a role at the site")

    site = models.OneToOneField(Site, on_delete=models.CASCADE, related_name="request_settings")
    critical_doors = models.CharField(max_length=10, choices=Critical, default=Critical.HELD)
    # What lies ready and is not collected goes back into stock after so many days.
    collect_days = models.PositiveSmallIntegerField(default=14)
    # Where and when, in the words that people who collect keys read.
    collect_at = models.CharField(max_length=200, blank=True)
    # Where copies go that are cut on a request; without one, the site's first cabinet.
    cabinet = models.ForeignKey(Cabinet, on_delete=models.PROTECT, null=True, blank=True, related_name="+")
    # Whether askers read who decided, or only in which role.
    names_deciders = models.BooleanField(default=True)

    class Meta:
        ordering = ["site__code"]
        verbose_name_plural = "request settings"
        constraints = [
            models.CheckConstraint(
                condition=Q(critical_doors__in=["held", "nobody", "everybody"]),
                name="critical_doors_are_known_to_somebody_named",
            ),
            models.CheckConstraint(
                condition=Q(collect_days__gte=1, collect_days__lte=MOST_COLLECT_DAYS),
                name="keys_lie_ready_for_a_day_at_least",
            ),
        ]

    def __str__(self) -> str:
        return f"Requests at {self.site}"
