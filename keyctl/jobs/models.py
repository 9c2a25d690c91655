"""Long work: what was asked, how far it is, what came of it."""

from datetime import timedelta
from typing import Self

from django.conf import settings
from django.core.serializers.json import DjangoJSONEncoder
from django.db import models
from django.db.models import Q
from django.utils import timezone
from django.utils.translation import gettext_lazy

from keyctl.jobs.kinds import MAY_OPEN_FILES, find_kind
from keyctl.lib.records import Record
from keyctl.lib.retold import retold
from keyctl.places.models import Site
from keyctl.places.roles import Role
from keyctl.vault.fields import SealedField


class JobQuerySet(models.QuerySet["Job"]):
    def at_sites(self, sites: "models.QuerySet[Site]") -> Self:
        return self.filter(site__in=sites)

    def unfinished(self) -> Self:
        return self.filter(state__in=Job.UNFINISHED)

    def about(self, thing: models.Model) -> Self:
        return self.filter(subjects__kind=thing._meta.label_lower, subjects__subject_id=thing.pk)


class Job(Record):
    """One piece of long work, done by a worker in the name of who started it."""

    class State(models.TextChoices):
        WAITING = "waiting", gettext_lazy("Waiting")
        RUNNING = "running", gettext_lazy("Running")
        STOPPING = "stopping", gettext_lazy("Stopping")
        STOPPED = "stopped", gettext_lazy("Stopped")
        FAILED = "failed", gettext_lazy("Failed")
        DONE = "done", gettext_lazy("Done")

    UNFINISHED = (State.WAITING, State.RUNNING, State.STOPPING)
    ENDED = (State.STOPPED, State.FAILED, State.DONE)

    LONGEST_LABEL = 160
    LONGEST_WORDS = 200

    kind = models.CharField(max_length=60)
    label = models.CharField(max_length=LONGEST_LABEL)
    site = models.ForeignKey(Site, on_delete=models.PROTECT, related_name="jobs")
    actor = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="jobs")
    state = models.CharField(max_length=8, choices=State, default=State.WAITING)
    back_url = models.CharField(max_length=200, blank=True)

    # Sealed: they may hold bittings, and a rule's sentence may quote what somebody typed.
    parameters = SealedField()
    checkpoint = SealedField(null=True)
    failure = SealedField(null=True)

    done = models.PositiveBigIntegerField(default=0)
    total = models.PositiveBigIntegerField(default=0)
    words = models.CharField(max_length=LONGEST_WORDS, blank=True)
    outcome = models.JSONField(default=dict, encoder=DjangoJSONEncoder)

    attempts = models.PositiveSmallIntegerField(default=0)
    # Which run writes here: a worker that was given up for dead and comes back finds another run's mark.
    run = models.UUIDField(null=True)
    worker = models.CharField(max_length=120, blank=True)
    task = models.UUIDField(null=True)
    heartbeat_at = models.DateTimeField(null=True)
    # Where and when the present run began; the pace is taken from there.
    run_at = models.DateTimeField(null=True)
    run_from = models.PositiveBigIntegerField(null=True)
    # How far the present run was and when, in pairs of seconds and steps.
    marks = models.JSONField(default=list)

    asked_at = models.DateTimeField(default=timezone.now)
    started_at = models.DateTimeField(null=True)
    ended_at = models.DateTimeField(null=True)

    objects = JobQuerySet.as_manager()

    class Meta:
        ordering = ["-asked_at", "-pk"]
        indexes = [
            models.Index(fields=["site", "-asked_at"], name="job_by_site"),
            models.Index(fields=["state", "heartbeat_at"], name="job_by_state"),
        ]
        constraints = [
            models.CheckConstraint(
                condition=Q(state__in=["waiting", "running", "stopping"], ended_at__isnull=True)
                | Q(state__in=["stopped", "failed", "done"], ended_at__isnull=False),
                name="job_that_ended_says_when",
            ),
            models.CheckConstraint(
                condition=Q(state="failed", failure__isnull=False)
                | (~Q(state="failed") & Q(failure__isnull=True)),
                name="job_that_failed_says_why",
            ),
            models.CheckConstraint(
                condition=Q(state__in=["running", "stopping"], run__isnull=False, heartbeat_at__isnull=False)
                | (~Q(state__in=["running", "stopping"]) & Q(run__isnull=True)),
                name="job_is_run_by_one_run",
            ),
        ]

    def __str__(self) -> str:
        """The label, as the reader speaks."""
        kind = find_kind(self.kind)
        if kind is None or not self.label.startswith(kind.english):
            return self.label
        about = self.label[len(kind.english) :]
        return f"{kind.label}: {retold(about[2:])}" if about.startswith(": ") else f"{kind.label}{about}"

    @property
    def is_unfinished(self) -> bool:
        return self.state in self.UNFINISHED

    @property
    def has_ended(self) -> bool:
        return self.state in self.ENDED

    @property
    def took(self) -> timedelta | None:
        return self.ended_at - self.started_at if self.ended_at and self.started_at else None

    @property
    def percent(self) -> int:
        return min(100, 100 * self.done // self.total) if self.total else 0

    @property
    def runs_by_limit(self) -> bool:
        kind = find_kind(self.kind)
        return kind is not None and kind.by_limit

    @property
    def file_roles(self) -> tuple[Role, ...]:
        """Who may open its files; of a kind that is gone, the fewest."""
        kind = find_kind(self.kind)
        return kind.file_roles if kind else MAY_OPEN_FILES

    @property
    def files_hold_secrets(self) -> bool:
        kind = find_kind(self.kind)
        return kind.holds_secrets if kind else True

    @property
    def files_are_for_starter(self) -> bool:
        kind = find_kind(self.kind)
        return kind is not None and kind.for_starter


class JobSubject(models.Model):
    """One thing a job works on, so that the thing's page can say so."""

    job = models.ForeignKey(Job, on_delete=models.CASCADE, related_name="subjects")
    kind = models.CharField(max_length=60)
    subject_id = models.UUIDField()

    class Meta:
        indexes = [models.Index(fields=["kind", "subject_id"], name="job_by_subject")]
        constraints = [
            models.UniqueConstraint(fields=["job", "kind", "subject_id"], name="job_names_a_subject_once")
        ]

    def __str__(self) -> str:
        return f"{self.kind} {self.subject_id}"


class JobFile(Record):
    """A file that a job made. Sealed, and gone after some days: what is kept somewhere can be lost there."""

    job = models.ForeignKey(Job, on_delete=models.CASCADE, related_name="files")
    name = models.CharField(max_length=120)
    content_type = models.CharField(max_length=100)
    size = models.PositiveBigIntegerField()
    content = SealedField()
    # What each opening is written down for, beside the job's own subjects: kind and identifier.
    subjects = models.JSONField(default=list)
    made_at = models.DateTimeField(default=timezone.now)

    class Meta:
        ordering = ["made_at", "name"]
        constraints = [
            models.UniqueConstraint(fields=["job", "name"], name="job_file_name_is_unique_in_its_job")
        ]

    def __str__(self) -> str:
        return self.name


class WorkerSign(models.Model):
    """A worker's sign of life, so that a page can say why nothing happens."""

    name = models.CharField(max_length=120)
    seen_at = models.DateTimeField()

    class Meta:
        constraints = [models.UniqueConstraint(fields=["name"], name="worker_sign_is_of_one_worker")]

    def __str__(self) -> str:
        return self.name


class Routine(models.Model):
    """Work that comes round by itself: when it was done last, what came of it, when it is due again."""

    LONGEST_SENTENCE = 400

    name = models.CharField(max_length=60)
    next_at = models.DateTimeField()
    # Set while a worker is at it; whoever sets it by compare-and-swap does the work.
    claimed_at = models.DateTimeField(null=True)
    last_run_at = models.DateTimeField(null=True)
    ended_at = models.DateTimeField(null=True)
    last_sentence = models.CharField(max_length=LONGEST_SENTENCE, blank=True)
    failed = models.BooleanField(default=False)

    class Meta:
        ordering = ["name"]
        constraints = [models.UniqueConstraint(fields=["name"], name="routine_is_kept_once")]

    def __str__(self) -> str:
        return self.name

    @property
    def took(self) -> timedelta | None:
        return self.ended_at - self.last_run_at if self.ended_at and self.last_run_at else None
