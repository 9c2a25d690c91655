"""One piece of work: what kind it is, for whom, how far it is."""

from typing import Self

from django.conf import settings
from django.db import models
from django.db.models import Q
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from keyctl.lib.records import Record
from keyctl.places.models import Site


class WorkOrderQuerySet(models.QuerySet["WorkOrder"]):
    def at_sites(self, sites: "models.QuerySet[Site]") -> Self:
        return self.filter(site__in=sites)

    def unfinished(self) -> Self:
        return self.filter(state__in=WorkOrder.UNFINISHED)


class WorkOrder(Record):
    class Kind(models.TextChoices):
        PIN = "pin", gettext_lazy("Pin cores")
        SWAP = "swap", gettext_lazy("Swap cores")
        CUT = "cut", gettext_lazy("Cut keys")
        REKEY = "rekey", gettext_lazy("Rekey an area")
        DECODE = "decode", gettext_lazy("Decode cores")
        RECOVER = "recover", gettext_lazy("Recover a control key")
        INSPECT = "inspect", gettext_lazy("Inspect doors")
        LOCK_OUT = "lock_out", gettext_lazy("Keep doors shut")

    class State(models.TextChoices):
        OPEN = "open", gettext_lazy("Open")
        UNDER_WAY = "under_way", gettext_lazy("Under way")
        WAITING = "waiting", gettext_lazy("Waiting")
        DONE = "done", gettext_lazy("Done")
        CANCELLED = "cancelled", gettext_lazy("Cancelled")

    UNFINISHED = (State.OPEN, State.UNDER_WAY, State.WAITING)

    number = models.PositiveIntegerField()
    site = models.ForeignKey(Site, on_delete=models.PROTECT, related_name="work_orders")
    kind = models.CharField(max_length=8, choices=Kind)
    state = models.CharField(max_length=10, choices=State, default=State.OPEN)
    # Why it stands still, while it does.
    waits_for = models.CharField(max_length=200, blank=True)
    title = models.CharField(max_length=160)
    opened_at = models.DateTimeField(default=timezone.now)
    opened_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    assigned_to = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, related_name="work_orders"
    )
    due_on = models.DateField(null=True)
    closed_at = models.DateTimeField(null=True)
    # The order of an area, which ends with its last part, unless more parts are still to be written.
    part_of = models.ForeignKey("self", on_delete=models.PROTECT, null=True, related_name="parts")
    more_to_come = models.BooleanField(default=False)
    # The line whose check asked for this work.
    arose_from = models.ForeignKey(
        "orders.OrderLine", on_delete=models.PROTECT, null=True, related_name="follow_ups"
    )

    objects = WorkOrderQuerySet.as_manager()

    class Meta:
        ordering = ["-number"]
        constraints = [
            models.UniqueConstraint(fields=["number"], name="work_order_number_is_unique"),
            models.CheckConstraint(
                condition=Q(state__in=["open", "under_way", "waiting"], closed_at__isnull=True)
                | Q(state__in=["done", "cancelled"], closed_at__isnull=False),
                name="work_order_is_open_or_closed_at_a_time",
            ),
            models.CheckConstraint(
                condition=(Q(state="waiting") & ~Q(waits_for="")) | (~Q(state="waiting") & Q(waits_for="")),
                name="work_order_that_waits_says_for_what",
            ),
            models.CheckConstraint(
                condition=Q(part_of__isnull=True) | ~Q(kind="rekey"), name="order_of_an_area_is_no_part"
            ),
            models.CheckConstraint(
                condition=Q(more_to_come=False) | Q(kind="rekey"), name="only_an_area_has_parts_to_come"
            ),
        ]
        indexes = [models.Index(fields=["site", "state", "-number"], name="work_order_by_state")]

    def __str__(self) -> str:
        return _("Order {number}").format(number=self.number)

    @property
    def is_open(self) -> bool:
        """Neither done nor cancelled: its lines are still worked on."""
        return self.state in self.UNFINISHED

    @property
    def is_area(self) -> bool:
        return self.kind == self.Kind.REKEY
