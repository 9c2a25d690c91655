"""The counter of the key desk: what lies on it before it is signed, reminders of due keys, calendar feeds."""

from typing import Self
from uuid import uuid4

from django.conf import settings
from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.db.models import Q
from django.utils import timezone
from django.utils.translation import gettext_lazy

from keyctl.approvals.models import KeyRequest
from keyctl.keys.models import Cabinet, Handover, Holder, KeyCopy, Person
from keyctl.lib.records import Record
from keyctl.places.models import Site


class Tray(Record):
    """What one clerk has on the counter at a site: for whom, and what is agreed. Kept from act to act.

    It is scratch paper, not the register: nothing of it counts before the act is finished.
    """

    class Due(models.TextChoices):
        USUAL = "usual", gettext_lazy("As usual")
        TODAY = "today", gettext_lazy("Tonight")
        TWO_HOURS = "2h", gettext_lazy("In 2 hours")
        FOUR_HOURS = "4h", gettext_lazy("In 4 hours")
        EIGHT_HOURS = "8h", gettext_lazy("In 8 hours")
        TOMORROW = "1d", gettext_lazy("Tomorrow")
        WEEK = "7d", gettext_lazy("In a week")
        MONTH = "30d", gettext_lazy("In 30 days")
        AT = "at", gettext_lazy("On a day of your own")

    site = models.ForeignKey(Site, on_delete=models.CASCADE, related_name="+")
    clerk = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.CASCADE, related_name="+")
    way = models.CharField(max_length=8, choices=Handover.Way)
    holder = models.ForeignKey(Holder, on_delete=models.SET_NULL, null=True, related_name="+")
    # Somebody known who is no holder of the site yet; the act makes them one.
    person = models.ForeignKey(Person, on_delete=models.SET_NULL, null=True, related_name="+")
    due = models.CharField(max_length=6, choices=Due, default=Due.USUAL)
    due_at = models.DateTimeField(null=True)
    # None: as the site's settings propose.
    deposit = models.PositiveIntegerField(null=True)
    cabinet = models.ForeignKey(Cabinet, on_delete=models.SET_NULL, null=True, related_name="+")
    brought_by = models.CharField(max_length=120, blank=True)
    version = models.PositiveIntegerField(default=1)
    # The act that is being written, and the last one: who sends a form twice finds it done.
    act_key = models.UUIDField(default=uuid4)
    done_key = models.UUIDField(null=True)
    done = models.ManyToManyField(Handover, related_name="+")

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["site", "clerk", "way"], name="tray_is_one_for_each_way"),
            models.CheckConstraint(
                condition=Q(holder__isnull=True) | Q(person__isnull=True), name="tray_is_for_one_taker"
            ),
            models.CheckConstraint(
                condition=~Q(due="at") | Q(due_at__isnull=False), name="tray_of_a_day_names_it"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.get_way_display()} by {self.clerk} at {self.site}"

    @property
    def taker(self) -> Holder | Person | None:
        return self.holder or self.person


class TrayLine(Record):
    """One key on the counter."""

    class Condition(models.TextChoices):
        SOUND = "", gettext_lazy("Sound")
        WORN = "worn", gettext_lazy("Worn")
        BENT = "bent", gettext_lazy("Bent")
        BROKEN = "broken", gettext_lazy("Broken")

    tray = models.ForeignKey(Tray, on_delete=models.CASCADE, related_name="lines")
    ordinal = models.PositiveIntegerField()
    copy = models.ForeignKey(KeyCopy, on_delete=models.CASCADE, related_name="+")
    # The request that it is collected for.
    request = models.ForeignKey(KeyRequest, on_delete=models.SET_NULL, null=True, related_name="+")
    condition = models.CharField(max_length=8, choices=Condition, blank=True)

    class Meta:
        ordering = ["ordinal"]
        constraints = [
            models.UniqueConstraint(fields=["tray", "copy"], name="tray_holds_a_key_once"),
            models.UniqueConstraint(fields=["tray", "ordinal"], name="tray_line_has_its_own_place"),
        ]

    def __str__(self) -> str:
        return str(self.copy)


class DueRules(Record):
    """How a site reminds holders of keys that are due back. Of leavers other rules remind."""

    site = models.OneToOneField(Site, on_delete=models.CASCADE, related_name="due_rules")
    is_on = models.BooleanField(default=True, verbose_name=gettext_lazy("Remind holders by mail"))
    lead_days = models.PositiveSmallIntegerField(
        default=2, validators=[MaxValueValidator(60)], verbose_name=gettext_lazy("Days before a key is due")
    )
    repeat_days = models.PositiveSmallIntegerField(
        default=7,
        validators=[MinValueValidator(1), MaxValueValidator(90)],
        verbose_name=gettext_lazy("Days between"),
    )
    tell_desk_after = models.PositiveSmallIntegerField(
        default=2,
        validators=[MinValueValidator(1), MaxValueValidator(20)],
        verbose_name=gettext_lazy("Tell the desk after"),
    )
    stop_after = models.PositiveSmallIntegerField(
        default=5,
        validators=[MinValueValidator(1), MaxValueValidator(20)],
        verbose_name=gettext_lazy("Stop after"),
    )

    class Meta:
        verbose_name_plural = "due rules"
        constraints = [
            models.CheckConstraint(
                condition=Q(repeat_days__gte=1, tell_desk_after__gte=1, stop_after__gte=1),
                name="due_reminders_are_apart_and_end",
            )
        ]

    def __str__(self) -> str:
        return f"Reminders of due keys at {self.site}"


class DueReminders(Record):
    """How far the reminders of one holder are: counted from the day the oldest key became due."""

    holder = models.OneToOneField(Holder, on_delete=models.CASCADE, related_name="due_reminders")
    # The moment of the key that the count is of; another one begins anew.
    due_at = models.DateTimeField()
    count = models.PositiveSmallIntegerField(default=0)
    last_at = models.DateTimeField(null=True)
    desk_told_at = models.DateTimeField(null=True)

    class Meta:
        verbose_name_plural = "due reminders"

    def __str__(self) -> str:
        return f"{self.count} reminders of {self.holder}"


class DuePause(Record):
    """No reminders to one holder until a day, for a reason: ill, on a journey, agreed with the desk."""

    holder = models.ForeignKey(Holder, on_delete=models.CASCADE, related_name="due_pauses")
    until = models.DateField()
    reason = models.CharField(max_length=200)
    made_at = models.DateTimeField(default=timezone.now)
    made_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    ended_at = models.DateTimeField(null=True)
    ended_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, related_name="+"
    )

    class Meta:
        ordering = ["-made_at"]
        constraints = [
            models.CheckConstraint(condition=~Q(reason=""), name="due_pause_says_why"),
            models.UniqueConstraint(
                fields=["holder"], condition=Q(ended_at__isnull=True), name="holder_has_one_pause_at_a_time"
            ),
            models.CheckConstraint(
                condition=Q(ended_at__isnull=True, ended_by__isnull=True)
                | Q(ended_at__isnull=False, ended_by__isnull=False),
                name="due_pause_that_was_ended_says_by_whom",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.holder} until {self.until:%-d %b %Y}: {self.reason}"


class FeedQuerySet(models.QuerySet["CalendarFeed"]):
    def alive(self) -> Self:
        return self.filter(ended_at__isnull=True, user__is_active=True)


class CalendarFeed(Record):
    """A secret address under which a calendar reads due days. Only a digest of the secret is kept."""

    class Shows(models.TextChoices):
        OWN_KEYS = "own-keys", gettext_lazy("My own keys")
        OWN_ORDERS = "own-orders", gettext_lazy("My work orders")
        KEYS = "keys", gettext_lazy("Keys due")
        ORDERS = "orders", gettext_lazy("Work orders")
        INTERIM = "interim", gettext_lazy("Temporary cores")
        COUNTS = "counts", gettext_lazy("Counts of keys")

    user = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.CASCADE, related_name="calendar_feeds"
    )
    shows = models.CharField(max_length=10, choices=Shows, default=Shows.OWN_KEYS)
    # None: what is the person's own; else all of the site.
    site = models.ForeignKey(Site, on_delete=models.CASCADE, null=True, related_name="calendar_feeds")
    digest = models.CharField(max_length=64)
    made_at = models.DateTimeField(default=timezone.now)
    last_read_on = models.DateField(null=True)
    ended_at = models.DateTimeField(null=True)

    objects = FeedQuerySet.as_manager()

    class Meta:
        ordering = ["-made_at"]
        constraints = [
            models.UniqueConstraint(fields=["digest"], name="calendar_feed_has_its_own_secret"),
            models.CheckConstraint(condition=~Q(digest=""), name="calendar_feed_keeps_a_digest"),
            models.CheckConstraint(
                condition=Q(shows__in=["own-keys", "own-orders"], site__isnull=True)
                | Q(shows__in=["keys", "orders", "interim", "counts"], site__isnull=False),
                name="calendar_feed_is_of_a_site_or_ones_own",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.get_shows_display()} at {self.site}" if self.site else self.get_shows_display()
