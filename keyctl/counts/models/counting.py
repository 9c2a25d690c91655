"""One count: what the register expected at its start, what was scanned, and how it ended."""

from typing import Self

from django.conf import settings
from django.db import models
from django.db.models import F, Q
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from keyctl.counts.models.rules import CountRule
from keyctl.keys.models import Cabinet, Holder, KeyCopy
from keyctl.lib.language import Text
from keyctl.lib.records import Record
from keyctl.lib.tags import grouped
from keyctl.places.models import Site
from keyctl.systems.models import KeySymbol


class CountQuerySet(models.QuerySet["Count"]):
    def at_sites(self, sites: "models.QuerySet[Site]") -> Self:
        return self.filter(site__in=sites)

    def with_names(self) -> Self:
        return self.select_related(
            "site",
            "cabinet__site",
            "holder__site",
            "holder__person",
            "symbol__system",
            "rule",
            "counter",
            "witness",
        )

    def open(self) -> Self:
        return self.filter(state__in=[Count.State.DUE, Count.State.RUNNING])


class Count(Record):
    class Scope(models.TextChoices):
        CABINET = "cabinet", gettext_lazy("A cabinet")
        HOLDER = "holder", gettext_lazy("A holder")
        KEYS = "keys", gettext_lazy("Keys by serial")
        SAMPLE = "sample", gettext_lazy("A sample")

    class State(models.TextChoices):
        DUE = "due", gettext_lazy("Due")
        RUNNING = "running", gettext_lazy("Being counted")
        CLOSED = "closed", gettext_lazy("Counted")
        CANCELLED = "cancelled", gettext_lazy("Not counted")

    class Reason(models.TextChoices):
        RULE = "rule", gettext_lazy("Due by the rule")
        CUSTODIAN = "custodian", gettext_lazy("Change of custodian")
        HAND = "hand", gettext_lazy("Started by hand")

    site = models.ForeignKey(Site, on_delete=models.PROTECT, related_name="key_counts")
    number = models.PositiveIntegerField()
    scope = models.CharField(max_length=8, choices=Scope)
    cabinet = models.ForeignKey(Cabinet, on_delete=models.PROTECT, null=True, related_name="counts")
    holder = models.ForeignKey(Holder, on_delete=models.PROTECT, null=True, related_name="counts")
    # Of a count by serial: which keys; blank where one symbol is named.
    subject = models.CharField(max_length=10, choices=CountRule.Subject, blank=True)
    symbol = models.ForeignKey(KeySymbol, on_delete=models.PROTECT, null=True, related_name="counts")
    sample_size = models.PositiveIntegerField(null=True)
    reason = models.CharField(max_length=10, choices=Reason)
    rule = models.ForeignKey(CountRule, on_delete=models.PROTECT, null=True, related_name="counts")
    state = models.CharField(max_length=10, choices=State, default=State.DUE)
    due_on = models.DateField(null=True)
    opened_at = models.DateTimeField(default=timezone.now)
    started_at = models.DateTimeField(null=True)
    counter = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, related_name="+"
    )
    witness = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, related_name="+"
    )
    witnessed_at = models.DateTimeField(null=True)
    # The rule asks for a witness, or the counter keeps some of these keys.
    needs_witness = models.BooleanField(default=False)
    # Who kept the cabinet when the count began.
    custodian = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, related_name="+"
    )
    ended_at = models.DateTimeField(null=True)
    ended_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, related_name="+"
    )
    note = models.CharField(max_length=400, blank=True)
    # What the comparison found when the count was closed.
    expected_count = models.PositiveIntegerField(null=True)
    sighted_count = models.PositiveIntegerField(null=True)
    declared_count = models.PositiveIntegerField(null=True)
    handled_count = models.PositiveIntegerField(null=True)
    difference_count = models.PositiveIntegerField(null=True)
    # Keys whose copies did not add up in the register at that moment; 0 is the law kept.
    law_breaches = models.PositiveIntegerField(null=True)
    version = models.PositiveIntegerField(default=1)

    objects = CountQuerySet.as_manager()

    class Meta:
        ordering = ["-opened_at", "-number"]
        constraints = [
            models.UniqueConstraint(fields=["site", "number"], name="count_number_is_unique_in_its_site"),
            models.UniqueConstraint(
                fields=["cabinet"],
                condition=Q(state__in=["due", "running"]),
                name="cabinet_has_one_open_count",
            ),
            models.UniqueConstraint(
                fields=["holder"], condition=Q(state__in=["due", "running"]), name="holder_has_one_open_count"
            ),
            models.UniqueConstraint(
                fields=["site", "subject"],
                condition=Q(scope="keys", state__in=["due", "running"]) & ~Q(subject=""),
                name="keys_by_serial_have_one_open_count",
            ),
            models.CheckConstraint(
                condition=Q(scope="cabinet", cabinet__isnull=False, holder__isnull=True)
                | Q(scope="holder", cabinet__isnull=True, holder__isnull=False)
                | Q(scope__in=["keys", "sample"], cabinet__isnull=True, holder__isnull=True),
                name="count_says_what_it_counts",
            ),
            models.CheckConstraint(
                condition=Q(state="due", counter__isnull=True, started_at__isnull=True)
                | Q(state__in=["running", "closed"], counter__isnull=False, started_at__isnull=False)
                | Q(state="cancelled"),
                name="count_that_runs_says_who_and_since_when",
            ),
            models.CheckConstraint(
                condition=Q(state__in=["due", "running"], ended_at__isnull=True, ended_by__isnull=True)
                | Q(state__in=["closed", "cancelled"], ended_at__isnull=False, ended_by__isnull=False),
                name="count_that_ended_says_who_and_when",
            ),
            models.CheckConstraint(
                condition=~Q(state="closed")
                | Q(
                    expected_count__isnull=False,
                    sighted_count__isnull=False,
                    difference_count__isnull=False,
                    law_breaches__isnull=False,
                ),
                name="count_that_is_closed_has_its_figures",
            ),
            models.CheckConstraint(
                condition=~Q(counter=F("witness")), name="nobody_witnesses_their_own_count"
            ),
            models.CheckConstraint(
                condition=Q(needs_witness=False) | ~Q(state="closed") | Q(witnessed_at__isnull=False),
                name="count_closes_with_the_witness_it_needs",
            ),
            models.CheckConstraint(
                condition=Q(witnessed_at__isnull=True) | Q(witness__isnull=False),
                name="count_that_was_witnessed_says_by_whom",
            ),
        ]
        indexes = [models.Index(fields=["site", "state", "-ended_at"], name="count_by_state")]

    def __str__(self) -> str:
        return _("Count {number}").format(number=self.number)

    @property
    def what(self) -> str:
        """What is counted, in words."""
        if self.scope == self.Scope.CABINET:
            return str(self.cabinet)
        if self.scope == self.Scope.HOLDER:
            return _("keys of {holder}").format(holder=self.holder)
        keys = KEYS_IN_WORDS.get(self.subject, _("keys of a list"))
        if self.symbol:
            keys = _("copies of {symbol}").format(symbol=self.symbol)
        if self.scope != self.Scope.SAMPLE:
            return str(keys)
        return _("{number} of the {keys}").format(number=self.sample_size, keys=keys)

    @property
    def is_blind(self) -> bool:
        """Keys that must be sought have to be named; everywhere else nobody sees what should be there."""
        return self.scope in {self.Scope.CABINET, self.Scope.HOLDER}

    @property
    def is_open(self) -> bool:
        return self.state in {self.State.DUE, self.State.RUNNING}


KEYS_IN_WORDS: dict[str, Text] = {
    CountRule.Subject.MASTERS: gettext_lazy("master and control keys"),
    CountRule.Subject.CRITICAL: gettext_lazy("keys of critical doors"),
    CountRule.Subject.ALL: gettext_lazy("keys of the site"),
    CountRule.Subject.CABINETS: gettext_lazy("keys in cabinets"),
    CountRule.Subject.HOLDERS: gettext_lazy("keys with holders"),
}


class CountExpected(Record):
    """A copy that the register had here when the count began, and the version it then was at."""

    count = models.ForeignKey(Count, on_delete=models.CASCADE, related_name="expected")
    copy = models.ForeignKey(KeyCopy, on_delete=models.PROTECT, related_name="+")
    copy_version = models.PositiveIntegerField()
    cabinet = models.ForeignKey(Cabinet, on_delete=models.PROTECT, null=True, related_name="+")
    holder = models.ForeignKey(Holder, on_delete=models.PROTECT, null=True, related_name="+")

    class Meta:
        ordering = ["copy__serial"]
        constraints = [
            models.UniqueConstraint(fields=["count", "copy"], name="count_expects_a_copy_once"),
        ]

    def __str__(self) -> str:
        return f"{self.copy} in {self.count}"

    @property
    def place(self) -> Cabinet | Holder | None:
        return self.cabinet or self.holder


class CountScan(Record):
    """One key in the counter's hand, or in the holder's word; with what the register said at that moment."""

    class Way(models.TextChoices):
        SIGHTED = "sighted", gettext_lazy("Seen")
        DECLARED = "declared", gettext_lazy("Declared by the holder, not seen")

    count = models.ForeignKey(Count, on_delete=models.CASCADE, related_name="scans")
    serial = models.CharField(max_length=40)
    copy = models.ForeignKey(KeyCopy, on_delete=models.PROTECT, null=True, related_name="+")
    way = models.CharField(max_length=10, choices=Way, default=Way.SIGHTED)
    at = models.DateTimeField(default=timezone.now)
    by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    register_state = models.CharField(max_length=12, blank=True)
    register_cabinet = models.ForeignKey(Cabinet, on_delete=models.PROTECT, null=True, related_name="+")
    register_holder = models.ForeignKey(Holder, on_delete=models.PROTECT, null=True, related_name="+")
    undone_at = models.DateTimeField(null=True)

    class Meta:
        ordering = ["-at", "-id"]
        constraints = [
            models.UniqueConstraint(
                fields=["count", "serial", "way"],
                condition=Q(undone_at__isnull=True),
                name="count_takes_a_serial_once",
            ),
            models.CheckConstraint(condition=~Q(serial=""), name="count_scan_has_a_serial"),
        ]

    def __str__(self) -> str:
        return self.label

    @property
    def label(self) -> str:
        return grouped(self.serial)
