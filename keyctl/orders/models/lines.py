"""The lines of orders: a core at the bench, a housing, a door, copies of a key, or a control key."""

from django.conf import settings
from django.db import models
from django.db.models import F, Q
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from keyctl.cores.models import Core
from keyctl.keys.models import Cabinet, KeyCopy
from keyctl.lib.records import Record
from keyctl.orders.models.orders import WorkOrder
from keyctl.places.models import Door, Housing
from keyctl.systems.models import KeySymbol, KeySystem

# As many as come from the machine in one go; more is another line's work.
MOST_COPIES = 100


class OrderLine(Record):
    """One thing to do: pin or decode a core, swap the core of a housing, keep it shut, look a door over, cut
    copies of a key, recover the control key of a system."""

    class State(models.TextChoices):
        OPEN = "open", gettext_lazy("Open")
        DONE = "done", gettext_lazy("Done")
        CANCELLED = "cancelled", gettext_lazy("Cancelled")

    class Trying(models.TextChoices):
        """Whether the core that this line pinned was tried. Lines of old orders owe nothing."""

        NOT_OWED = "", gettext_lazy("Not asked for")
        OWED = "owed", gettext_lazy("To be tried")
        WRONG = "wrong", gettext_lazy("Tried, and something is wrong")
        GOOD = "good", gettext_lazy("Tried")
        LET_GO = "let_go", gettext_lazy("Left untried")

    order = models.ForeignKey(WorkOrder, on_delete=models.CASCADE, related_name="lines")
    ordinal = models.PositiveIntegerField()
    state = models.CharField(max_length=10, choices=State, default=State.OPEN)
    # The core to pin or to decode, or the core that goes in.
    core = models.ForeignKey(Core, on_delete=models.PROTECT, null=True, related_name="order_lines")
    # Swaps, and doors kept shut: where it goes in, and what came out.
    housing = models.ForeignKey(Housing, on_delete=models.PROTECT, null=True, related_name="order_lines")
    core_out = models.ForeignKey(Core, on_delete=models.PROTECT, null=True, related_name="+")
    # The core that was made for this housing, while it waits for its pins; another may go in all the same.
    meant = models.ForeignKey(Core, on_delete=models.PROTECT, null=True, related_name="meant_lines")
    operating_key_turned = models.BooleanField(default=False)
    control_key_came_out = models.BooleanField(default=False)
    egress_and_latch_tried = models.BooleanField(default=False)
    # Doors kept shut only: since when, and when the core that came out went back in.
    keeps_shut = models.BooleanField(default=False)
    shut_at = models.DateTimeField(null=True)
    lifted_at = models.DateTimeField(null=True)
    # Inspections only.
    door = models.ForeignKey(Door, on_delete=models.PROTECT, null=True, related_name="order_lines")
    # Recoveries only: whose control key is lost.
    system = models.ForeignKey(KeySystem, on_delete=models.PROTECT, null=True, related_name="order_lines")
    # Pins only.
    trying = models.CharField(max_length=6, choices=Trying, default=Trying.NOT_OWED, blank=True)
    # The last time that somebody stood before the door in vain.
    unreached_at = models.DateTimeField(null=True)
    unreached_why = models.CharField(max_length=200, blank=True)
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
                    & (
                        Q(core__isnull=False)
                        | Q(symbol__isnull=False)
                        | Q(door__isnull=False)
                        | Q(system__isnull=False)
                    )
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
                condition=Q(door__isnull=True, system__isnull=True)
                | (Q(door__isnull=True) | Q(system__isnull=True))
                & Q(core__isnull=True, core_out__isnull=True, housing__isnull=True, symbol__isnull=True),
                name="order_line_of_a_door_or_a_system_is_nothing_else",
            ),
            models.CheckConstraint(
                condition=Q(unreached_at__isnull=True, unreached_why="")
                | (Q(unreached_at__isnull=False) & ~Q(unreached_why="")),
                name="door_that_was_not_reached_says_why",
            ),
            models.CheckConstraint(
                condition=Q(lifted_at__isnull=True) | Q(shut_at__isnull=False),
                name="only_a_shut_door_is_lifted",
            ),
            models.CheckConstraint(
                condition=Q(shut_at__isnull=True) | Q(keeps_shut=True, core__isnull=False),
                name="door_is_shut_by_a_core_in_it",
            ),
            models.CheckConstraint(
                condition=Q(keeps_shut=False) | Q(housing__isnull=False), name="only_a_housing_is_kept_shut"
            ),
            models.CheckConstraint(
                condition=Q(trying="") | Q(state="done", core__isnull=False),
                name="only_a_pinned_core_is_tried",
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
                fields=["housing", "keeps_shut"],
                condition=Q(state="open", housing__isnull=False),
                name="housing_has_at_most_one_open_swap",
            ),
            models.UniqueConstraint(
                fields=["order", "symbol"],
                condition=Q(symbol__isnull=False),
                name="key_stands_in_an_order_once",
            ),
            models.UniqueConstraint(
                fields=["order", "door"],
                condition=Q(door__isnull=False),
                name="door_is_inspected_once_an_order",
            ),
            models.UniqueConstraint(
                fields=["core"],
                condition=Q(state="open", core__isnull=False),
                name="core_stands_in_at_most_one_open_line",
            ),
        ]

    def __str__(self) -> str:
        return _("{order}, line {ordinal}").format(order=self.order, ordinal=self.ordinal)

    @property
    def is_open(self) -> bool:
        return self.state == self.State.OPEN

    @property
    def door_at(self) -> Door | None:
        """The door that somebody goes to for this line."""
        return self.door or (self.housing.door if self.housing else None)

    @property
    def is_shut(self) -> bool:
        return self.shut_at is not None and self.lifted_at is None
