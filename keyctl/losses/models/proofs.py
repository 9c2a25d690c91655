"""The proof that lost keys turn nothing, and what they still turn."""

from django.conf import settings
from django.db import models
from django.db.models import F, Q
from django.utils import timezone

from keyctl.cores.models import Core
from keyctl.jobs.models import Job
from keyctl.lib.records import Record
from keyctl.losses.models.cases import LossCase
from keyctl.places.models import Site
from keyctl.systems.models import KeySymbol


class LossProof(Record):
    """The lost cuts of a case against the pins of every core that such a key enters, at one time.

    ``digest`` is over what was read: which keys, and which core with which sealed pins.
    """

    case = models.ForeignKey(LossCase, on_delete=models.PROTECT, related_name="proofs")
    job = models.OneToOneField(Job, on_delete=models.SET_NULL, null=True, related_name="loss_proof")
    # Nobody where the nightly look made it.
    asked_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, related_name="+"
    )
    asked_at = models.DateTimeField(default=timezone.now)
    finished_at = models.DateTimeField(null=True)
    keys = models.PositiveIntegerField(default=0)
    cores = models.PositiveIntegerField(default=0)
    sites = models.PositiveIntegerField(default=0)
    # Cores that such a key may enter and whose pins nobody knows: the proof cannot speak of them.
    unknown = models.PositiveIntegerField(default=0)
    left = models.PositiveIntegerField(default=0)
    digest = models.CharField(max_length=64, blank=True)
    # The last night in which a look at all pins found the same.
    confirmed_at = models.DateTimeField(null=True)

    class Meta:
        ordering = ["-asked_at", "-pk"]
        constraints = [
            models.CheckConstraint(
                condition=Q(finished_at__isnull=True, digest="")
                | (Q(finished_at__isnull=False) & ~Q(digest="")),
                name="loss_proof_that_ended_says_what_it_read",
            ),
            models.CheckConstraint(
                condition=Q(left__lte=F("cores")), name="loss_proof_leaves_no_more_than_it_read"
            ),
        ]

    def __str__(self) -> str:
        return f"Proof of {self.case} of {self.asked_at:%-d %b %Y}"

    @property
    def is_clean(self) -> bool:
        return self.finished_at is not None and self.left == 0


class LeftOver(models.Model):
    """A core that a lost key still turned or took out in a proof."""

    proof = models.ForeignKey(LossProof, on_delete=models.CASCADE, related_name="left_overs")
    core = models.ForeignKey(Core, on_delete=models.CASCADE, related_name="+")
    symbol = models.ForeignKey(KeySymbol, on_delete=models.PROTECT, related_name="+")
    site = models.ForeignKey(Site, on_delete=models.PROTECT, related_name="+")
    whereabouts = models.CharField(max_length=200)
    operates = models.BooleanField()
    withdraws = models.BooleanField()

    class Meta:
        ordering = ["proof", "whereabouts", "pk"]
        constraints = [
            models.UniqueConstraint(
                fields=["proof", "core", "symbol"], name="left_over_core_is_told_once_for_a_key"
            ),
            models.CheckConstraint(
                condition=Q(operates=True) | Q(withdraws=True), name="left_over_core_has_an_effect"
            ),
        ]

    def __str__(self) -> str:
        return self.whereabouts
