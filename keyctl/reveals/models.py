"""Who was let look at a bitting, who let them, and how much one person may see in a time."""

from datetime import datetime, timedelta
from typing import Self

from django.conf import settings
from django.db import models
from django.db.models import F, Q
from django.utils import timezone
from django.utils.translation import gettext_lazy

from keyctl.audit.models import AppendOnly, AppendOnlyQuerySet, Event
from keyctl.lib.records import Record
from keyctl.lib.retold import retold
from keyctl.places.models import Site

MOST_ALONE_AN_HOUR, MOST_ALONE_A_DAY = 100, 300
MOST_AT_WORK_AN_HOUR, MOST_AT_WORK_A_DAY = 1000, 3000
MOST_MORE = 500


class PermissionQuerySet(models.QuerySet["Permission"]):
    def with_names(self) -> Self:
        return self.select_related("site", "asked_by", "decided_by")


class Permission(Record):
    """One person asks to see one thing, or to see more than the quota lets; another person decides.

    It is good for that person and that thing alone, until its end; a first look shortens it.
    """

    # The kind of more than the quota; its thing is a site.
    MORE = "more"
    # How long a thing may be looked at again after the first look.
    LOOKS_LAST = timedelta(minutes=15)

    class State(models.TextChoices):
        ASKED = "asked", gettext_lazy("Waits for a decision")
        GRANTED = "granted", gettext_lazy("Granted")
        DECLINED = "declined", gettext_lazy("Declined")
        WITHDRAWN = "withdrawn", gettext_lazy("Withdrawn")

    # The name of a registered kind of thing, and the thing.
    kind = models.CharField(max_length=20)
    subject_id = models.UUIDField()
    # What it is, in words that hold no bitting and stay true when names change.
    words = models.CharField(max_length=200)
    site = models.ForeignKey(Site, on_delete=models.PROTECT, related_name="permissions")
    # How many more, where the quota is what was asked about.
    count = models.PositiveSmallIntegerField(null=True)
    asked_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    asked_at = models.DateTimeField(default=timezone.now)
    reason = models.CharField(max_length=300)
    state = models.CharField(max_length=10, choices=State, default=State.ASKED)
    decided_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, related_name="+"
    )
    decided_at = models.DateTimeField(null=True)
    decision = models.CharField(max_length=300, blank=True)
    until = models.DateTimeField(null=True)
    used_at = models.DateTimeField(null=True)
    withdrawn_at = models.DateTimeField(null=True)

    objects = PermissionQuerySet.as_manager()

    class Meta:
        ordering = ["-asked_at"]
        indexes = [models.Index(fields=["site", "state", "-asked_at"], name="permission_by_state")]
        constraints = [
            models.CheckConstraint(
                condition=~Q(reason="") & ~Q(words="") & ~Q(kind=""), name="permission_says_what_and_why"
            ),
            models.UniqueConstraint(
                fields=["asked_by", "kind", "subject_id"],
                condition=Q(state="asked"),
                name="permission_is_asked_for_once",
            ),
            models.CheckConstraint(
                condition=Q(decided_by__isnull=True) | ~Q(decided_by=F("asked_by")),
                name="nobody_permits_what_they_ask_for",
            ),
            models.CheckConstraint(
                condition=Q(state="asked", decided_by__isnull=True, decided_at__isnull=True, decision="")
                | (
                    Q(state__in=["granted", "declined"], decided_by__isnull=False, decided_at__isnull=False)
                    & ~Q(decision="")
                )
                | Q(state="withdrawn"),
                name="permission_decided_says_who_when_and_why",
            ),
            models.CheckConstraint(
                condition=Q(state="granted", until__gt=F("decided_at"))
                | Q(state__in=["asked", "declined"], until__isnull=True)
                | Q(state="withdrawn"),
                name="permission_that_is_granted_ends",
            ),
            models.CheckConstraint(
                condition=Q(used_at__isnull=True) | Q(used_at__gte=F("decided_at"), used_at__lt=F("until")),
                name="permission_is_used_while_it_lasts",
            ),
            models.CheckConstraint(
                condition=Q(state="withdrawn", withdrawn_at__isnull=False)
                | (~Q(state="withdrawn") & Q(withdrawn_at__isnull=True)),
                name="permission_withdrawn_says_when",
            ),
            models.CheckConstraint(
                condition=Q(kind="more", count__gte=1, count__lte=MOST_MORE)
                | (~Q(kind="more") & Q(count__isnull=True)),
                name="only_more_than_the_quota_has_a_number",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.words}, asked by {self.asked_by}"

    @property
    def said(self) -> str:
        """What it is, in the language of the page."""
        return retold(self.words)

    @property
    def ends_at(self) -> datetime | None:
        """A first look shortens it; what stands for a number of looks lasts as long as it says."""
        if self.until is None or self.used_at is None or self.kind == self.MORE:
            return self.until
        return min(self.until, self.used_at + self.LOOKS_LAST)

    @property
    def is_open(self) -> bool:
        ends_at = self.ends_at
        return self.state == self.State.GRANTED and ends_at is not None and ends_at > timezone.now()


class Reveal(AppendOnly, Record):
    """One thing that was shown to one person: written before the vault opened, whatever came of it."""

    class By(models.TextChoices):
        WORK = "work", gettext_lazy("Work that is theirs")
        PERMISSION = "permission", gettext_lazy("Permission of a second person")
        QUESTION = "question", gettext_lazy("A question about what they hold")

    actor = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField(default=timezone.now)
    kind = models.CharField(max_length=20)
    subject_id = models.UUIDField()
    words = models.CharField(max_length=200)
    site = models.ForeignKey(Site, on_delete=models.PROTECT, related_name="reveals")
    by = models.CharField(max_length=10, choices=By)
    ground = models.CharField(max_length=300)
    # Work that the person gave themselves: whoever reads the list looks at these first.
    is_own_work = models.BooleanField(default=False)
    # Above change keys, or a control key.
    is_high = models.BooleanField(default=False)
    second = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, related_name="+"
    )
    permission = models.ForeignKey(Permission, on_delete=models.PROTECT, null=True, related_name="reveals")
    # What let it go beyond the quota.
    more = models.ForeignKey(Permission, on_delete=models.PROTECT, null=True, related_name="reveals_beyond")
    event = models.OneToOneField(Event, on_delete=models.PROTECT, related_name="+")

    objects = AppendOnlyQuerySet["Reveal"].as_manager()

    class Meta:
        ordering = ["-at", "-pk"]
        indexes = [
            models.Index(fields=["actor", "-at"], name="reveal_by_person"),
            models.Index(fields=["site", "-at"], name="reveal_by_site"),
        ]
        constraints = [
            models.CheckConstraint(
                condition=~Q(ground="") & ~Q(words=""), name="reveal_says_what_and_on_what_ground"
            ),
            models.CheckConstraint(
                condition=Q(by="permission", permission__isnull=False, second__isnull=False)
                | (Q(by__in=["work", "question"]) & Q(permission__isnull=True)),
                name="reveal_names_the_permission_it_rests_on",
            ),
            models.CheckConstraint(
                condition=Q(is_high=False) | Q(second__isnull=False),
                name="what_stands_above_change_keys_takes_two",
            ),
            models.CheckConstraint(
                condition=Q(second__isnull=True) | ~Q(second=F("actor")), name="second_person_is_another"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.actor} saw {self.words}"


class Limits(Record):
    """How many things one person may see at a site within an hour and a day, alone and at work."""

    site = models.OneToOneField(Site, on_delete=models.CASCADE, related_name="reveal_limits")
    alone_an_hour = models.PositiveSmallIntegerField(default=20)
    alone_a_day = models.PositiveSmallIntegerField(default=60)
    at_work_an_hour = models.PositiveSmallIntegerField(default=300)
    at_work_a_day = models.PositiveSmallIntegerField(default=800)
    version = models.PositiveIntegerField(default=1)

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=Q(
                    alone_an_hour__gte=1,
                    alone_an_hour__lte=MOST_ALONE_AN_HOUR,
                    alone_a_day__gte=F("alone_an_hour"),
                    alone_a_day__lte=MOST_ALONE_A_DAY,
                    at_work_an_hour__gte=1,
                    at_work_an_hour__lte=MOST_AT_WORK_AN_HOUR,
                    at_work_a_day__gte=F("at_work_an_hour"),
                    at_work_a_day__lte=MOST_AT_WORK_A_DAY,
                ),
                name="reveal_limits_keep_their_bounds",
            )
        ]

    def __str__(self) -> str:
        return f"limits at {self.site}"
