"""How often what is counted at a site, by whom, and how long its record is kept. A rule is never edited."""

from django.conf import settings
from django.db import models
from django.db.models import Q
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from keyctl.audit.models import AppendOnly, AppendOnlyQuerySet
from keyctl.lib.records import Record
from keyctl.places.models import Site


class CountRuleQuerySet(AppendOnlyQuerySet["CountRule"]):
    """Named, so that the type checker finds it."""


class CountRule(AppendOnly, Record):
    """One version of one rule; the newest of a site and subject is in force, old reports read the older."""

    class Subject(models.TextChoices):
        CABINETS = "cabinets", gettext_lazy("Each cabinet")
        HOLDERS = "holders", gettext_lazy("Each holder")
        MASTERS = "masters", gettext_lazy("Master and control keys, by serial")
        CRITICAL = "critical", gettext_lazy("Keys of critical doors, by serial")
        ALL = "all", gettext_lazy("Every key, by serial")

    class Counters(models.TextChoices):
        DESK = "desk", gettext_lazy("The key desk")
        LOCKSMITH = "locksmith", gettext_lazy("A locksmith")
        EITHER = "either", gettext_lazy("The key desk or a locksmith")

    site = models.ForeignKey(Site, on_delete=models.PROTECT, related_name="count_rules")
    subject = models.CharField(max_length=10, choices=Subject)
    number = models.PositiveIntegerField()
    interval_months = models.PositiveSmallIntegerField()
    counters = models.CharField(max_length=10, choices=Counters, default=Counters.EITHER)
    needs_witness = models.BooleanField(default=False)
    # Whether a holder's own word counts like a key that was seen.
    accepts_declared = models.BooleanField(default=False)
    # A missing key that nobody has explained for so long is proposed as lost, never declared so.
    missing_days = models.PositiveSmallIntegerField(default=14)
    retention_days = models.PositiveIntegerField()
    # Cabinets only: whether a new custodian forces a count, and whether nothing is issued until it is done.
    on_new_custodian = models.BooleanField(default=False)
    blocks_issuing = models.BooleanField(default=False)
    source = models.CharField(max_length=400)
    is_ended = models.BooleanField(default=False)
    made_at = models.DateTimeField(default=timezone.now)
    made_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")

    objects = CountRuleQuerySet.as_manager()

    class Meta:
        ordering = ["site__code", "subject", "-number"]
        constraints = [
            models.UniqueConstraint(
                fields=["site", "subject", "number"], name="count_rule_version_is_numbered_once"
            ),
            models.CheckConstraint(
                condition=Q(interval_months__gte=1, interval_months__lte=60),
                name="count_rule_counts_within_five_years",
            ),
            models.CheckConstraint(condition=~Q(source=""), name="count_rule_names_its_source"),
            models.CheckConstraint(
                condition=Q(subject="cabinets") | Q(on_new_custodian=False, blocks_issuing=False),
                name="only_cabinets_have_custodians_to_change",
            ),
            models.CheckConstraint(
                condition=Q(blocks_issuing=False) | Q(on_new_custodian=True),
                name="issuing_waits_only_for_a_forced_count",
            ),
        ]

    def __str__(self) -> str:
        return _("{subject}: {interval}").format(subject=self.get_subject_display(), interval=self.interval)

    @property
    def interval(self) -> str:
        named = {1: _("every month"), 6: _("every half-year"), 12: _("every year"), 24: _("every two years")}
        return named.get(self.interval_months) or _("every {months} months").format(
            months=self.interval_months
        )
