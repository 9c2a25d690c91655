"""The register: acts at the desk, the line of each copy that was out, and the deposits left for keys."""

from django.conf import settings
from django.db import models
from django.db.models import F, Q
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from keyctl.audit.models import AppendOnly, AppendOnlyQuerySet
from keyctl.keys.models.copies import KeyCopy
from keyctl.keys.models.people import Holder
from keyctl.keys.models.terms import Terms
from keyctl.lib.days import day_or_moment
from keyctl.lib.moments import ends_its_day
from keyctl.lib.money import money_words
from keyctl.lib.records import Record
from keyctl.places.models import Site
from keyctl.vault.fields import SealedField


class Handover(AppendOnly, Record):
    """One act at the desk over several copies: issued, returned, or passed from one holder to another.

    ``holder`` took the keys, or had them; none where one return brought the keys of several.
    """

    class Way(models.TextChoices):
        OUT = "out", gettext_lazy("Handed out")
        BACK = "back", gettext_lazy("Returned")
        TRANSFER = "transfer", gettext_lazy("Transferred")

    class SignWay(models.TextChoices):
        DRAWN = "drawn", gettext_lazy("Drawn")
        TYPED = "typed", gettext_lazy("Name typed")
        NONE = "none", gettext_lazy("Not signed")

    site = models.ForeignKey(Site, on_delete=models.PROTECT, related_name="handovers")
    number = models.PositiveIntegerField()
    way = models.CharField(max_length=8, choices=Way)
    holder = models.ForeignKey(Holder, on_delete=models.PROTECT, null=True, related_name="handovers")
    at = models.DateTimeField(default=timezone.now)
    by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    terms = models.ForeignKey(Terms, on_delete=models.PROTECT, null=True, related_name="+")
    signed_as = models.CharField(max_length=120, blank=True)
    sign_way = models.CharField(max_length=6, choices=SignWay, default=SignWay.NONE)
    # The strokes as an SVG path, sealed: a signature is worth copying.
    signature = SealedField(null=True)

    objects = AppendOnlyQuerySet["Handover"].as_manager()

    class Meta:
        ordering = ["-at", "-number"]
        constraints = [
            models.UniqueConstraint(fields=["site", "number"], name="handover_number_is_unique_at_its_site"),
            models.CheckConstraint(
                condition=Q(way="back") | Q(holder__isnull=False), name="handover_says_who_took_the_keys"
            ),
            models.CheckConstraint(
                condition=Q(way="back") | Q(sign_way__in=["drawn", "typed"]),
                name="handover_is_signed_by_who_takes_keys",
            ),
            models.CheckConstraint(
                condition=Q(sign_way="drawn", signature__isnull=False)
                | (Q(sign_way="typed", signature__isnull=True) & ~Q(signed_as=""))
                | Q(sign_way="none", signature__isnull=True),
                name="handover_signature_is_as_it_says",
            ),
        ]

    def __str__(self) -> str:
        return _("{way}, no. {number}").format(way=self.get_way_display(), number=self.number)


class Custody(Record):
    """One line of the register: a copy out with a holder, and back."""

    class Ending(models.TextChoices):
        RETURNED = "returned", gettext_lazy("Returned")
        TRANSFERRED = "transferred", gettext_lazy("Transferred")
        LOST = "lost", gettext_lazy("Reported lost")

    copy = models.ForeignKey(KeyCopy, on_delete=models.PROTECT, related_name="custodies")
    holder = models.ForeignKey(Holder, on_delete=models.PROTECT, related_name="custodies")
    # Moment and issuer stand in the act too; here lists and the database compare them.
    out_at = models.DateTimeField(default=timezone.now)
    handed_out_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    out_act = models.ForeignKey(Handover, on_delete=models.PROTECT, related_name="lines_out")
    due_at = models.DateTimeField(null=True)
    ended_at = models.DateTimeField(null=True)
    ended_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, related_name="+"
    )
    ending = models.CharField(max_length=12, choices=Ending, blank=True)
    back_act = models.ForeignKey(Handover, on_delete=models.PROTECT, null=True, related_name="lines_back")
    brought_by = models.CharField(max_length=120, blank=True)
    condition_back = models.CharField(max_length=200, blank=True)

    class Meta:
        ordering = ["-out_at"]
        constraints = [
            models.UniqueConstraint(
                fields=["copy"], condition=Q(ended_at__isnull=True), name="key_copy_is_out_with_one_holder"
            ),
            models.CheckConstraint(
                condition=Q(ended_at__isnull=True, ended_by__isnull=True, ending="")
                | (Q(ended_at__isnull=False, ended_by__isnull=False) & ~Q(ending="")),
                name="custody_end_says_who",
            ),
            models.CheckConstraint(
                condition=Q(ending__in=["", "lost"], back_act__isnull=True)
                | Q(ending__in=["returned", "transferred"], back_act__isnull=False),
                name="custody_comes_back_by_an_act",
            ),
            models.CheckConstraint(
                condition=Q(ended_at__isnull=True) | Q(ended_at__gte=F("out_at")),
                name="custody_ends_after_it_began",
            ),
        ]
        indexes = [
            models.Index(fields=["due_at"], condition=Q(ended_at__isnull=True), name="custody_out_by_due"),
            models.Index(fields=["holder", "ended_at"], name="custody_of_holder"),
        ]

    def __str__(self) -> str:
        return f"{self.copy} with {self.holder}"

    @property
    def signed_as(self) -> str:
        return self.out_act.signed_as

    @property
    def is_overdue(self) -> bool:
        return self.ended_at is None and self.due_at is not None and self.due_at < timezone.now()

    @property
    def is_due_by_the_day(self) -> bool:
        return self.due_at is not None and ends_its_day(self.due_at)

    @property
    def due_words(self) -> str:
        return day_or_moment(self.due_at) if self.due_at else ""


class Deposit(Record):
    """Money left for the keys of one act, until they are back."""

    class State(models.TextChoices):
        TAKEN = "taken", gettext_lazy("Taken")
        GIVEN_BACK = "given-back", gettext_lazy("Given back")
        KEPT = "kept", gettext_lazy("Kept")

    handover = models.OneToOneField(Handover, on_delete=models.PROTECT, related_name="deposit")
    amount = models.PositiveIntegerField()
    currency = models.CharField(max_length=3)
    state = models.CharField(max_length=10, choices=State, default=State.TAKEN)
    settled_at = models.DateTimeField(null=True)
    settled_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, related_name="+"
    )
    reason = models.CharField(max_length=400, blank=True)

    class Meta:
        ordering = ["-handover__at"]
        constraints = [
            models.CheckConstraint(condition=Q(amount__gt=0), name="deposit_is_some_money"),
            models.CheckConstraint(
                condition=Q(state="taken", settled_at__isnull=True, settled_by__isnull=True)
                | Q(state__in=["given-back", "kept"], settled_at__isnull=False, settled_by__isnull=False),
                name="deposit_that_is_settled_says_by_whom",
            ),
            models.CheckConstraint(
                condition=~Q(state="kept", reason=""), name="deposit_that_is_kept_says_why"
            ),
        ]

    def __str__(self) -> str:
        return money_words(self.amount, self.currency)
