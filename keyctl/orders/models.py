"""Work orders: cores to pin at the bench, cores to swap at the door, keys to cut."""

from typing import Self

from django.conf import settings
from django.db import models
from django.db.models import F, Q
from django.utils import timezone

from keyctl.cores.models import Core
from keyctl.keys.models import Cabinet, KeyCopy
from keyctl.lib.records import Record
from keyctl.places.models import Housing, Site
from keyctl.systems.models import KeySymbol

# As many as come from the machine in one go; more is another line's work.
MOST_COPIES = 100


class WorkOrderQuerySet(models.QuerySet["WorkOrder"]):
    def at_sites(self, sites: "models.QuerySet[Site]") -> Self:
        return self.filter(site__in=sites)


class WorkOrder(Record):
    class Kind(models.TextChoices):
        PIN = "pin", "Pin cores"
        SWAP = "swap", "Swap cores"
        CUT = "cut", "Cut keys"

    class State(models.TextChoices):
        OPEN = "open", "Open"
        DONE = "done", "Done"
        CANCELLED = "cancelled", "Cancelled"

    number = models.PositiveIntegerField()
    site = models.ForeignKey(Site, on_delete=models.PROTECT, related_name="work_orders")
    kind = models.CharField(max_length=8, choices=Kind)
    state = models.CharField(max_length=10, choices=State, default=State.OPEN)
    title = models.CharField(max_length=160)
    opened_at = models.DateTimeField(default=timezone.now)
    opened_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    due_on = models.DateField(null=True)
    closed_at = models.DateTimeField(null=True)

    objects = WorkOrderQuerySet.as_manager()

    class Meta:
        ordering = ["-number"]
        constraints = [
            models.UniqueConstraint(fields=["number"], name="work_order_number_is_unique"),
            models.CheckConstraint(
                condition=Q(state="open", closed_at__isnull=True)
                | (~Q(state="open") & Q(closed_at__isnull=False)),
                name="work_order_is_open_or_closed_at_a_time",
            ),
        ]
        indexes = [models.Index(fields=["site", "state", "-number"], name="work_order_by_state")]

    def __str__(self) -> str:
        return f"Order {self.number}"

    @property
    def is_open(self) -> bool:
        return self.state == self.State.OPEN


class OrderLine(Record):
    """One core to pin, one housing whose core is swapped for another, or copies of one key to cut."""

    class State(models.TextChoices):
        OPEN = "open", "Open"
        DONE = "done", "Done"
        CANCELLED = "cancelled", "Cancelled"

    order = models.ForeignKey(WorkOrder, on_delete=models.CASCADE, related_name="lines")
    ordinal = models.PositiveIntegerField()
    state = models.CharField(max_length=10, choices=State, default=State.OPEN)
    # The core to pin, or the core that goes in.
    core = models.ForeignKey(Core, on_delete=models.PROTECT, null=True, related_name="order_lines")
    # Swaps only: where it goes in, and what came out.
    housing = models.ForeignKey(Housing, on_delete=models.PROTECT, null=True, related_name="order_lines")
    core_out = models.ForeignKey(Core, on_delete=models.PROTECT, null=True, related_name="+")
    # The core that was made for this housing, while it waits for its pins; another may go in all the same.
    meant = models.ForeignKey(Core, on_delete=models.PROTECT, null=True, related_name="meant_lines")
    operating_key_turned = models.BooleanField(default=False)
    control_key_came_out = models.BooleanField(default=False)
    egress_and_latch_tried = models.BooleanField(default=False)
    # Cuts only: which key, how many, where they go, and the copies once they are cut.
    symbol = models.ForeignKey(KeySymbol, on_delete=models.PROTECT, null=True, related_name="order_lines")
    count = models.PositiveSmallIntegerField(null=True)
    cabinet = models.ForeignKey(Cabinet, on_delete=models.PROTECT, null=True, related_name="order_lines")
    copies = models.ManyToManyField(KeyCopy, related_name="order_lines")
    note = models.CharField(max_length=400, blank=True)
    done_at = models.DateTimeField(null=True)
    done_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, related_name="+"
    )

    class Meta:
        ordering = ["order", "ordinal"]
        constraints = [
            models.UniqueConstraint(fields=["order", "ordinal"], name="order_line_has_its_own_place"),
            models.CheckConstraint(
                condition=(
                    Q(state="done", done_at__isnull=False, done_by__isnull=False)
                    & (Q(core__isnull=False) | Q(symbol__isnull=False))
                )
                | (~Q(state="done") & Q(done_at__isnull=True, done_by__isnull=True)),
                name="order_line_done_says_who_and_what",
            ),
            models.CheckConstraint(
                condition=Q(symbol__isnull=True, count__isnull=True, cabinet__isnull=True)
                | Q(symbol__isnull=False, count__isnull=False, cabinet__isnull=False)
                & Q(core__isnull=True, core_out__isnull=True, housing__isnull=True),
                name="order_line_cuts_a_key_or_works_on_a_core",
            ),
            models.CheckConstraint(
                condition=Q(count__isnull=True) | Q(count__gte=1, count__lte=MOST_COPIES),
                name="order_line_cuts_a_sane_number",
            ),
            models.CheckConstraint(
                condition=~Q(state="done")
                | Q(housing__isnull=True)
                | Q(operating_key_turned=True, control_key_came_out=True, egress_and_latch_tried=True),
                name="swap_is_done_only_with_its_checks",
            ),
            models.CheckConstraint(
                condition=Q(meant__isnull=True) | Q(housing__isnull=False), name="core_is_meant_for_a_housing"
            ),
            models.CheckConstraint(
                condition=Q(core_out__isnull=True) | Q(core__isnull=True) | ~Q(core=F("core_out")),
                name="swap_takes_out_another_core",
            ),
            models.UniqueConstraint(
                fields=["housing"],
                condition=Q(state="open", housing__isnull=False),
                name="housing_has_at_most_one_open_swap",
            ),
            models.UniqueConstraint(
                fields=["order", "symbol"],
                condition=Q(symbol__isnull=False),
                name="key_stands_in_an_order_once",
            ),
            models.UniqueConstraint(
                fields=["core"],
                condition=Q(state="open", core__isnull=False),
                name="core_stands_in_at_most_one_open_line",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.order}, line {self.ordinal}"

    @property
    def is_open(self) -> bool:
        return self.state == self.State.OPEN
