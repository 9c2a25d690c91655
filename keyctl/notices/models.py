"""Mail to people: what was written, whether it went out, and every try."""

from typing import Self

from django.db import models
from django.db.models import Q
from django.utils import timezone
from django.utils.translation import gettext_lazy

from keyctl.lib.records import Record
from keyctl.places.models import Site


class NoticeQuerySet(models.QuerySet["Notice"]):
    def at_sites(self, sites: "models.QuerySet[Site]") -> Self:
        return self.filter(site__in=sites)

    def about(self, thing: models.Model) -> Self:
        return self.filter(subjects__kind=thing._meta.label_lower, subjects__subject_id=thing.pk)

    def waiting(self) -> Self:
        return self.filter(state=Notice.State.WAITING)


class Notice(Record):
    """One message to one person, written in the transaction of what it tells."""

    class State(models.TextChoices):
        WAITING = "waiting", gettext_lazy("Waiting")
        SENT = "sent", gettext_lazy("Sent")
        FAILED = "failed", gettext_lazy("Not sent")
        NOBODY = "nobody", gettext_lazy("Nobody to mail")

    LONGEST_SUBJECT = 150

    site = models.ForeignKey(Site, on_delete=models.PROTECT, related_name="notices")
    kind = models.CharField(max_length=60)
    # As it was asked for; only what can be an address is ever sent to.
    to = models.CharField(max_length=254, blank=True)
    name = models.CharField(max_length=120, blank=True)
    subject = models.CharField(max_length=LONGEST_SUBJECT)
    body = models.TextField()
    attachment_kind = models.CharField(max_length=60, blank=True)
    attachment_id = models.UUIDField(null=True)
    # What may be said once only: a reminder of one day for one holder.
    once_key = models.CharField(max_length=200, blank=True)

    state = models.CharField(max_length=8, choices=State, default=State.WAITING)
    attempts = models.PositiveSmallIntegerField(default=0)
    written_at = models.DateTimeField(default=timezone.now)
    # Not before this moment; whoever moves it by compare-and-swap sends the message.
    next_at = models.DateTimeField(default=timezone.now)
    sent_at = models.DateTimeField(null=True)
    # Why it is not sent, in words for the page.
    trouble = models.CharField(max_length=300, blank=True)

    objects = NoticeQuerySet.as_manager()

    class Meta:
        ordering = ["-written_at", "-pk"]
        indexes = [
            models.Index(fields=["site", "-written_at"], name="notice_by_site"),
            models.Index(fields=["state", "next_at"], name="notice_by_state"),
        ]
        constraints = [
            models.UniqueConstraint(
                fields=["once_key"], condition=~Q(once_key=""), name="notice_is_written_once"
            ),
            models.CheckConstraint(
                condition=Q(state="sent", sent_at__isnull=False)
                | (Q(state__in=["waiting", "failed", "nobody"]) & Q(sent_at__isnull=True)),
                name="notice_that_is_sent_says_when",
            ),
            models.CheckConstraint(
                condition=Q(state="nobody", to="") | (~Q(state="nobody") & ~Q(to="")),
                name="notice_goes_to_somebody",
            ),
            models.CheckConstraint(
                condition=~Q(state="failed", trouble=""), name="notice_that_failed_says_why"
            ),
            models.CheckConstraint(
                condition=Q(attachment_kind="", attachment_id__isnull=True)
                | (~Q(attachment_kind="") & Q(attachment_id__isnull=False)),
                name="notice_attachment_is_named",
            ),
        ]

    def __str__(self) -> str:
        return self.subject


class NoticeSubject(models.Model):
    """One thing a notice is about, so that the thing's page can show it."""

    notice = models.ForeignKey(Notice, on_delete=models.CASCADE, related_name="subjects")
    kind = models.CharField(max_length=60)
    subject_id = models.UUIDField()

    class Meta:
        indexes = [models.Index(fields=["kind", "subject_id"], name="notice_by_subject")]
        constraints = [
            models.UniqueConstraint(
                fields=["notice", "kind", "subject_id"], name="notice_names_a_subject_once"
            )
        ]

    def __str__(self) -> str:
        return f"{self.kind} {self.subject_id}"


class NoticeTry(models.Model):
    """One try to send a notice: the log."""

    class Outcome(models.TextChoices):
        SENT = "sent", gettext_lazy("Taken by the mail server")
        LATER = "later", gettext_lazy("Not taken; tried again later")
        REFUSED = "refused", gettext_lazy("Refused for good")

    notice = models.ForeignKey(Notice, on_delete=models.CASCADE, related_name="tries")
    at = models.DateTimeField(default=timezone.now)
    outcome = models.CharField(max_length=8, choices=Outcome)
    words = models.CharField(max_length=300, blank=True)

    class Meta:
        ordering = ["-at", "-pk"]
        constraints = [
            models.CheckConstraint(
                condition=Q(outcome__in=["sent", "later", "refused"]), name="notice_try_has_an_outcome"
            )
        ]

    def __str__(self) -> str:
        return f"{self.at:%Y-%m-%d %H:%M} {self.get_outcome_display()}"
