"""Requests for keys: asked for by doors, decided step by step, made ready, collected at the desk."""

from typing import Self

from django.conf import settings
from django.db import models
from django.db.models import F, Q
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from keyctl.keys.models import Holder, KeyCopy
from keyctl.lib.records import Record
from keyctl.orders.models import OrderLine
from keyctl.places.models import Building, Door, Site
from keyctl.systems.models import KeySymbol


class KeyRequestQuerySet(models.QuerySet["KeyRequest"]):
    def at_sites(self, sites: "models.QuerySet[Site]") -> Self:
        return self.filter(building__site__in=sites)


class KeyRequest(Record):
    class State(models.TextChoices):
        ASKED = "asked", gettext_lazy("Waiting for a decision")
        APPROVED = "approved", gettext_lazy("Being made ready")
        READY = "ready", gettext_lazy("Ready to collect")
        HANDED_OUT = "handed-out", gettext_lazy("Handed out")
        REFUSED = "refused", gettext_lazy("Refused")
        WITHDRAWN = "withdrawn", gettext_lazy("Withdrawn")
        LAPSED = "lapsed", gettext_lazy("Not collected")

    building = models.ForeignKey(Building, on_delete=models.PROTECT, related_name="key_requests")
    doors = models.ManyToManyField(Door, related_name="key_requests")
    holder = models.ForeignKey(Holder, on_delete=models.PROTECT, related_name="key_requests")
    # Copied from the holder, so that the database itself can forbid deciding for oneself.
    holder_user = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, related_name="+"
    )
    requester = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="key_requests"
    )
    reason = models.CharField(max_length=400)
    starts_on = models.DateField(null=True)
    needed_until = models.DateField(null=True)
    asked_at = models.DateTimeField(default=timezone.now)
    state = models.CharField(max_length=12, choices=State, default=State.ASKED)
    decided_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, related_name="+"
    )
    decided_at = models.DateTimeField(null=True)
    decision_note = models.CharField(max_length=400, blank=True)
    ready_at = models.DateTimeField(null=True)
    version = models.PositiveIntegerField(default=1)

    objects = KeyRequestQuerySet.as_manager()

    class Meta:
        ordering = ["-asked_at"]
        constraints = [
            models.CheckConstraint(
                condition=~Q(decided_by=F("requester")), name="nobody_decides_their_own_request"
            ),
            models.CheckConstraint(
                condition=~Q(decided_by=F("holder_user")), name="nobody_decides_a_key_for_themselves"
            ),
            models.CheckConstraint(
                condition=Q(
                    state__in=["asked", "withdrawn"], decided_by__isnull=True, decided_at__isnull=True
                )
                | Q(
                    state__in=["approved", "ready", "handed-out", "refused", "withdrawn", "lapsed"],
                    decided_by__isnull=False,
                    decided_at__isnull=False,
                ),
                name="key_request_decision_says_who_and_when",
            ),
            models.CheckConstraint(
                condition=~Q(state="ready") | Q(ready_at__isnull=False),
                name="key_request_that_is_ready_says_since_when",
            ),
            models.CheckConstraint(
                condition=Q(starts_on__isnull=True)
                | Q(needed_until__isnull=True)
                | Q(needed_until__gte=F("starts_on")),
                name="key_request_ends_after_it_starts",
            ),
        ]
        indexes = [models.Index(fields=["building", "state", "-asked_at"], name="key_request_by_state")]

    def __str__(self) -> str:
        return _("Request of {requester} for {building}").format(
            requester=self.requester, building=self.building
        )


class Grant(Record):
    """A key that a request gives: chosen by its first decision, filled in when the desk hands a copy out."""

    request = models.ForeignKey(KeyRequest, on_delete=models.CASCADE, related_name="grants")
    symbol = models.ForeignKey(KeySymbol, on_delete=models.PROTECT, related_name="grants")
    is_master = models.BooleanField()
    approved_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    # Set aside for the holder until it is collected or the request ends.
    reserved_copy = models.ForeignKey(
        KeyCopy, on_delete=models.PROTECT, null=True, related_name="reservations"
    )
    # The copy is being cut: the line of the order that cuts it.
    order_line = models.ForeignKey(OrderLine, on_delete=models.PROTECT, null=True, related_name="grants")
    copy = models.ForeignKey(KeyCopy, on_delete=models.PROTECT, null=True, related_name="grants")
    handed_out_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, related_name="+"
    )

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["request", "symbol"], name="request_grants_a_key_once"),
            models.UniqueConstraint(
                fields=["reserved_copy"],
                condition=Q(reserved_copy__isnull=False),
                name="key_copy_is_set_aside_once",
            ),
            models.CheckConstraint(
                condition=Q(reserved_copy__isnull=True) | Q(copy__isnull=True),
                name="grant_sets_nothing_aside_once_handed_out",
            ),
            models.CheckConstraint(
                condition=Q(copy__isnull=True, handed_out_by__isnull=True)
                | Q(copy__isnull=False, handed_out_by__isnull=False),
                name="grant_says_which_copy_and_by_whom",
            ),
            models.CheckConstraint(
                condition=Q(is_master=False)
                | Q(handed_out_by__isnull=True)
                | ~Q(handed_out_by=F("approved_by")),
                name="who_approves_a_master_does_not_hand_it_out",
            ),
        ]

    def __str__(self) -> str:
        return _("{symbol} for {request}").format(symbol=self.symbol, request=self.request)
