"""Ways to rekey after a loss, what they cost, and the orders that came of the chosen one."""

from django.conf import settings
from django.db import models
from django.db.models import Q
from django.utils import timezone

from keyctl.lib.records import Record
from keyctl.losses.models.cases import LossCase
from keyctl.orders.models import WorkOrder
from keyctl.places.models import Site
from keyctl.vault.fields import SealedField


class RekeyPlan(Record):
    """One way to shut the lost keys out. ``figures`` hold no bitting; ``secret`` is sealed."""

    case = models.ForeignKey(LossCase, on_delete=models.CASCADE, related_name="plans")
    ordinal = models.PositiveSmallIntegerField()
    kind = models.CharField(max_length=30)
    label = models.CharField(max_length=120)
    figures = models.JSONField(default=dict)
    secret = SealedField(null=True)
    # The look whose doors it answers to: a plan of an older look is stale.
    look = models.PositiveIntegerField()
    made_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    made_at = models.DateTimeField(default=timezone.now)
    chosen_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, related_name="+"
    )
    chosen_at = models.DateTimeField(null=True)

    class Meta:
        ordering = ["case", "ordinal"]
        constraints = [
            models.UniqueConstraint(fields=["case", "ordinal"], name="rekey_plan_has_its_own_place"),
            models.UniqueConstraint(
                fields=["case"], condition=Q(chosen_at__isnull=False), name="loss_case_has_one_chosen_plan"
            ),
            models.CheckConstraint(
                condition=Q(chosen_by__isnull=True, chosen_at__isnull=True)
                | Q(chosen_by__isnull=False, chosen_at__isnull=False),
                name="rekey_plan_choice_says_who_and_when",
            ),
        ]

    def __str__(self) -> str:
        return self.label


class WorkRates(Record):
    """What work takes and costs at one site. Money is in the smallest unit of the currency."""

    site = models.OneToOneField(Site, on_delete=models.PROTECT, related_name="work_rates")
    minutes_per_core = models.PositiveSmallIntegerField(default=12)
    minutes_per_visit = models.PositiveSmallIntegerField(default=30)
    cores_per_visit = models.PositiveSmallIntegerField(default=20)
    minutes_per_key = models.PositiveSmallIntegerField(default=3)
    money_per_hour = models.PositiveIntegerField(default=6000)
    money_per_blank = models.PositiveIntegerField(default=250)
    money_per_pin = models.PositiveIntegerField(default=5)
    currency = models.CharField(max_length=3, default="EUR")
    changed_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, related_name="+"
    )
    changed_at = models.DateTimeField(default=timezone.now)
    version = models.PositiveIntegerField(default=1)

    class Meta:
        ordering = ["site__code"]
        verbose_name_plural = "work rates"
        constraints = [
            models.CheckConstraint(condition=Q(cores_per_visit__gte=1), name="work_rates_visit_takes_a_core"),
            models.CheckConstraint(condition=~Q(currency=""), name="work_rates_name_their_currency"),
        ]

    def __str__(self) -> str:
        return f"Work rates of {self.site}"


class CaseOrder(Record):
    """An order that was opened for a case."""

    case = models.ForeignKey(LossCase, on_delete=models.PROTECT, related_name="case_orders")
    order = models.OneToOneField(WorkOrder, on_delete=models.PROTECT, related_name="case_order")
    plan = models.ForeignKey(RekeyPlan, on_delete=models.PROTECT, null=True, related_name="case_orders")

    class Meta:
        ordering = ["case", "order__number"]

    def __str__(self) -> str:
        return f"{self.order} of {self.case}"
