"""A lost control key: the case, the cores read, the second person, and the register of control blanks."""

from typing import Self

from django.conf import settings
from django.db import models
from django.db.models import F, Q
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from keyctl.audit.models import AppendOnly, AppendOnlyQuerySet
from keyctl.cores.models import Core
from keyctl.lib.records import Record
from keyctl.places.models import Site
from keyctl.systems.models import KeySymbol, KeySystem
from keyctl.vault.fields import SealedField


class ControlKeyCaseQuerySet(models.QuerySet["ControlKeyCase"]):
    def at_sites(self, sites: "models.QuerySet[Site]") -> Self:
        return self.filter(site__in=sites)

    def with_names(self) -> Self:
        return self.select_related("site", "system", "opened_by", "closed_by", "core", "symbol")


class ControlKeyCase(Record):
    """One lost control key, from the report to the new key. What was found out of it is sealed."""

    class Way(models.TextChoices):
        DECODE = "decode", gettext_lazy("Decode two cores")
        COPY = "copy-to-blank", gettext_lazy("Copy a working key onto a control blank")
        SHACKLE = "open-shackle", gettext_lazy("Through the open shackle")
        NONE = "none", gettext_lazy("There is no control key")

    class State(models.TextChoices):
        OPEN = "open", gettext_lazy("Open")
        CLOSED = "closed", gettext_lazy("Closed")
        CANCELLED = "cancelled", gettext_lazy("Cancelled")

    site = models.ForeignKey(Site, on_delete=models.PROTECT, related_name="control_key_cases")
    system = models.ForeignKey(KeySystem, on_delete=models.PROTECT, related_name="control_key_cases")
    way = models.CharField(max_length=14, choices=Way)
    note = models.CharField(max_length=400)
    opened_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    opened_at = models.DateTimeField(default=timezone.now)
    # The core in hand, and the operating key copied onto a control blank, where the way asks for them.
    core = models.ForeignKey(Core, on_delete=models.PROTECT, null=True, related_name="control_key_cases")
    symbol = models.ForeignKey(
        KeySymbol, on_delete=models.PROTECT, null=True, related_name="control_key_cases"
    )
    # The control cuts that the cores read agree on; there as long as they agree.
    findings = SealedField(null=True)
    state = models.CharField(max_length=10, choices=State, default=State.OPEN)
    closed_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, related_name="+"
    )
    closed_at = models.DateTimeField(null=True)
    outcome = models.CharField(max_length=400, blank=True)
    version = models.PositiveIntegerField(default=1)

    objects = ControlKeyCaseQuerySet.as_manager()

    class Meta:
        ordering = ["-opened_at"]
        constraints = [
            models.UniqueConstraint(
                fields=["site", "system"], condition=Q(state="open"), name="control_key_case_is_open_once"
            ),
            models.CheckConstraint(
                condition=Q(state="open", closed_by__isnull=True, closed_at__isnull=True, outcome="")
                | (
                    Q(state__in=["closed", "cancelled"], closed_by__isnull=False, closed_at__isnull=False)
                    & ~Q(outcome="")
                ),
                name="control_key_case_end_says_who_and_what",
            ),
            models.CheckConstraint(
                condition=Q(findings__isnull=True) | Q(way="decode"),
                name="control_key_case_finds_cuts_only_by_decoding",
            ),
            models.CheckConstraint(
                condition=Q(symbol__isnull=True) | Q(way="copy-to-blank", core__isnull=False),
                name="control_key_case_copies_a_key_of_its_core",
            ),
        ]
        indexes = [models.Index(fields=["site", "state", "-opened_at"], name="control_key_case_by_state")]

    def __str__(self) -> str:
        return _("Lost control key of {system}").format(system=self.system.code)

    @property
    def is_open(self) -> bool:
        return self.state == self.State.OPEN


class CoreReading(Record):
    """The pins of one core, taken out and measured. A wrong reading is set aside, never changed."""

    case = models.ForeignKey(ControlKeyCase, on_delete=models.PROTECT, related_name="readings")
    core = models.ForeignKey(Core, on_delete=models.PROTECT, related_name="control_key_readings")
    ordinal = models.PositiveSmallIntegerField()
    findings = SealedField()
    read_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    read_at = models.DateTimeField(default=timezone.now)
    set_aside_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, related_name="+"
    )
    set_aside_at = models.DateTimeField(null=True)

    class Meta:
        ordering = ["case", "ordinal"]
        constraints = [
            models.UniqueConstraint(fields=["case", "ordinal"], name="core_reading_has_its_own_number"),
            models.UniqueConstraint(
                fields=["case", "core"],
                condition=Q(set_aside_at__isnull=True),
                name="core_is_read_once_in_a_case",
            ),
            models.CheckConstraint(
                condition=Q(set_aside_by__isnull=True, set_aside_at__isnull=True)
                | Q(set_aside_by__isnull=False, set_aside_at__isnull=False),
                name="core_reading_set_aside_says_who",
            ),
        ]

    def __str__(self) -> str:
        return f"Reading {self.ordinal} of core {self.core}"


class ControlApproval(Record):
    """The second person's yes: good for one control key, shown or cut, and then used up."""

    case = models.ForeignKey(ControlKeyCase, on_delete=models.PROTECT, related_name="approvals")
    # Copied from the case, so that the database itself can forbid approving one's own.
    case_opened_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    approved_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    approved_at = models.DateTimeField(default=timezone.now)
    used_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, related_name="+"
    )
    used_at = models.DateTimeField(null=True)
    # Set where what was approved changed before it was used.
    lapsed_at = models.DateTimeField(null=True)

    class Meta:
        ordering = ["-approved_at"]
        constraints = [
            models.UniqueConstraint(
                fields=["case"],
                condition=Q(used_at__isnull=True, lapsed_at__isnull=True),
                name="control_key_case_has_one_approval_at_a_time",
            ),
            models.CheckConstraint(
                condition=~Q(approved_by=F("case_opened_by")), name="nobody_approves_their_own_control_key"
            ),
            models.CheckConstraint(
                condition=Q(used_by__isnull=True) | ~Q(used_by=F("approved_by")),
                name="who_approves_a_control_key_does_not_take_it",
            ),
            models.CheckConstraint(
                condition=Q(used_by__isnull=True, used_at__isnull=True)
                | Q(used_by__isnull=False, used_at__isnull=False, lapsed_at__isnull=True),
                name="control_approval_use_says_who",
            ),
        ]

    def __str__(self) -> str:
        return f"Approval by {self.approved_by}"


class ControlBlank(Record):
    """The control blanks of one keyway at one site: any of them makes a working key take cores out."""

    site = models.ForeignKey(Site, on_delete=models.PROTECT, related_name="control_blanks")
    keyway = models.CharField(max_length=20)
    count = models.IntegerField(default=0)
    version = models.PositiveIntegerField(default=1)

    class Meta:
        ordering = ["site__code", "keyway"]
        constraints = [
            models.UniqueConstraint(
                fields=["site", "keyway"], name="control_blank_is_registered_once_a_site"
            ),
            models.CheckConstraint(condition=Q(count__gte=0), name="control_blanks_are_not_below_none"),
        ]

    def __str__(self) -> str:
        return f"Control blanks, keyway {self.keyway}"


class ControlBlankMoveQuerySet(AppendOnlyQuerySet["ControlBlankMove"]):
    pass


class ControlBlankMove(AppendOnly, Record):
    """One line of the register. The lines of a keyway add up to its count."""

    class Kind(models.TextChoices):
        RECEIVED = "received", gettext_lazy("Received")
        CUT = "cut", gettext_lazy("Cut")
        SCRAPPED = "scrapped", gettext_lazy("Scrapped")
        COUNTED = "counted", gettext_lazy("Counted")

    blank = models.ForeignKey(ControlBlank, on_delete=models.PROTECT, related_name="moves")
    kind = models.CharField(max_length=8, choices=Kind)
    change = models.IntegerField()
    left = models.IntegerField()
    by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField(default=timezone.now)
    # The case a blank was cut for, and the operating key that was copied onto it.
    case = models.ForeignKey(ControlKeyCase, on_delete=models.PROTECT, null=True, related_name="blanks")
    symbol = models.ForeignKey(KeySymbol, on_delete=models.PROTECT, null=True, related_name="control_blanks")
    note = models.CharField(max_length=200, blank=True)

    objects = ControlBlankMoveQuerySet.as_manager()

    class Meta:
        ordering = ["-at"]
        constraints = [
            models.CheckConstraint(condition=Q(left__gte=0), name="control_blank_move_leaves_none_or_more"),
            models.CheckConstraint(
                condition=Q(kind="received", change__gt=0, symbol__isnull=True, case__isnull=True)
                | Q(kind="cut", change=-1, symbol__isnull=False, case__isnull=False)
                | Q(kind="scrapped", change__lt=0, symbol__isnull=True, case__isnull=True)
                | Q(kind="counted", symbol__isnull=True, case__isnull=True),
                name="control_blank_move_changes_as_its_kind_says",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.get_kind_display()} {self.change:+d}"

    @property
    def signed(self) -> str:
        return f"{self.change:+d}".replace("-", "−")
