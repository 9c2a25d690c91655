"""Proofs as they were run: what each found, what is to be made of it, and what an officer accepted."""

from typing import Any

from django.conf import settings
from django.db import models
from django.db.models import F, Q
from django.utils import timezone
from django.utils.translation import gettext_lazy

from keyctl.cores.models import Core
from keyctl.cores.proof import Kind, Scope
from keyctl.jobs.models import Job
from keyctl.lib.records import Record
from keyctl.places.models import Site
from keyctl.systems.models import KeySymbol, KeySystem

LONGEST_WORDS = 300


class Proof(Record):
    """Every key against every core of the estate, of a site or of a system, at one time.

    ``figures`` holds by site how many cores were tried, and how often keys turned or withdrew them.
    """

    site = models.ForeignKey(Site, on_delete=models.PROTECT, null=True, related_name="proofs")
    system = models.ForeignKey(KeySystem, on_delete=models.PROTECT, null=True, related_name="proofs")
    job = models.OneToOneField(Job, on_delete=models.SET_NULL, null=True, related_name="proof")
    asked_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    asked_at = models.DateTimeField(default=timezone.now)
    finished_at = models.DateTimeField(null=True)
    # The last proof of the same scope that was finished before: what is new and what is gone is told by it.
    before = models.ForeignKey("self", on_delete=models.SET_NULL, null=True, related_name="+")
    keys = models.PositiveIntegerField(default=0)
    figures = models.JSONField(default=dict)

    class Meta:
        ordering = ["-asked_at", "-pk"]
        indexes = [models.Index(fields=["-finished_at"], name="proof_by_end")]
        constraints = [
            models.CheckConstraint(
                condition=Q(site__isnull=True) | Q(system__isnull=True),
                name="proof_is_of_a_site_or_of_a_system",
            ),
            models.CheckConstraint(
                condition=Q(finished_at__isnull=True) | Q(finished_at__gte=F("asked_at")),
                name="proof_is_finished_after_it_was_asked_for",
            ),
        ]

    def __str__(self) -> str:
        return f"proof of {self.of} of {self.asked_at:%-d %b %Y}"

    @property
    def of(self) -> str:
        if self.system:
            return f"system {self.system.code}"
        return str(self.site) if self.site else "the whole estate"

    @property
    def scope(self) -> Scope:
        return Scope(self.site, self.system)

    def count(self, sites: "set[Any]", place: int) -> int:
        """A figure added up over these sites: 0 cores, 1 turning, 2 withdrawing."""
        return sum(row[place] for site, row in self.figures.items() if site in sites)


class Cause(models.TextChoices):
    """Why pins and plan differ, as far as the records tell."""

    REPLANNED = "replanned", gettext_lazy("Pinned before the plan changed")
    BENCH = "bench", gettext_lazy("Pins read at the bench differ from the plan")
    UNPINNABLE = "unpinnable", gettext_lazy("The plan cannot be pinned into one core")
    CROSS_KEYED = "cross-keyed", gettext_lazy("Cross keying lets it in")
    OTHER_KEYWAY = "other-keyway", gettext_lazy("Key of another system on a compatible keyway")
    SAME_KEYWAY = "same-keyway", gettext_lazy("Key of another system on the same keyway")
    INCIDENTAL = "incidental", gettext_lazy("Incidental combination of masters")
    AT_CONTROL = "at-control", gettext_lazy("Its cuts meet the control line")
    UNKNOWN = "unknown", gettext_lazy("Cause not known")


class Finding(models.Model):
    """One key that does something else to one core than the plan says, in one proof."""

    proof = models.ForeignKey(Proof, on_delete=models.CASCADE, related_name="findings")
    core = models.ForeignKey(Core, on_delete=models.CASCADE, related_name="findings")
    symbol = models.ForeignKey(KeySymbol, on_delete=models.CASCADE, related_name="findings")
    # Where the core was: who may look at that site may read the finding.
    site = models.ForeignKey(Site, on_delete=models.PROTECT, related_name="+")
    pinned_at = models.DateTimeField()
    kind = models.CharField(max_length=20, choices=Kind)
    cause = models.CharField(max_length=12, choices=Cause)
    words = models.CharField(max_length=LONGEST_WORDS)
    is_foreign = models.BooleanField()
    is_new = models.BooleanField(default=False)

    class Meta:
        ordering = ["pk"]
        indexes = [
            models.Index(fields=["proof", "site", "kind"], name="finding_by_site"),
            models.Index(fields=["proof", "site"], condition=Q(is_new=True), name="finding_new_by_site"),
        ]
        constraints = [
            models.UniqueConstraint(
                fields=["proof", "core", "symbol", "kind"], name="finding_is_told_once_in_a_proof"
            ),
            models.CheckConstraint(condition=~Q(words=""), name="finding_says_its_cause"),
        ]

    def __str__(self) -> str:
        return f"{self.symbol} {self.get_kind_display()}: core {self.core}"


class Acceptance(Record):
    """An officer lets a finding be for a time. It ends with its date, and when the core is pinned anew."""

    core = models.ForeignKey(Core, on_delete=models.CASCADE, related_name="acceptances")
    symbol = models.ForeignKey(KeySymbol, on_delete=models.CASCADE, related_name="acceptances")
    kind = models.CharField(max_length=20, choices=Kind)
    pinned_at = models.DateTimeField()
    reason = models.CharField(max_length=LONGEST_WORDS)
    accepted_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    accepted_on = models.DateField()
    until = models.DateField()
    ended_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, related_name="+"
    )
    ended_at = models.DateTimeField(null=True)

    class Meta:
        ordering = ["-accepted_on", "pk"]
        indexes = [models.Index(fields=["core", "symbol"], name="acceptance_by_core")]
        constraints = [
            models.CheckConstraint(
                condition=Q(until__gte=F("accepted_on")), name="acceptance_ends_after_it_began"
            ),
            models.CheckConstraint(condition=~Q(reason=""), name="acceptance_says_why"),
            models.CheckConstraint(
                condition=Q(ended_by__isnull=True, ended_at__isnull=True)
                | Q(ended_by__isnull=False, ended_at__isnull=False),
                name="acceptance_that_was_ended_says_by_whom",
            ),
            models.UniqueConstraint(
                fields=["core", "symbol", "kind", "pinned_at", "until"],
                condition=Q(ended_at__isnull=True),
                name="finding_is_accepted_once_until_a_day",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.symbol} on {self.core}, accepted until {self.until:%-d %b %Y}"
