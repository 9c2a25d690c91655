"""A job while it runs: what its work function is handed."""

import json
from collections.abc import Sequence
from time import monotonic
from typing import Any

from django.core.serializers.json import DjangoJSONEncoder
from django.db.models import Model
from django.utils import timezone

from keyctl.accounts.models import User
from keyctl.jobs.models import Job, JobFile
from keyctl.jobs.pace import note
from keyctl.lib.language import Text
from keyctl.vault import services as vault

SECONDS_BETWEEN_WRITES = 0.5


class Ending:
    """Whether this worker shall end; a plain flag, since a signal sets it."""

    is_asked = False


ending = Ending()


class Cancelled(Exception):
    """Somebody asked the job to stop. The work lets it pass."""


class WorkerEnds(Exception):
    """The worker is shut down; another one goes on from the checkpoint."""


class Overtaken(Exception):
    """This run was given up for dead and another one has the job: it must write nothing more."""


class Running:
    """The job in hand.

    ``parameters`` and ``checkpoint`` are sealed at rest. Call ``step`` outside a transaction, else nobody
    sees it before the end; call ``save`` inside the transaction of the batch it speaks of, so that both
    are kept or neither.
    """

    def __init__(self, job: Job) -> None:
        self.job = job
        self.actor: User = job.actor
        self.parameters: dict[str, Any] = json.loads(vault.unseal(job, "parameters"))
        self.checkpoint: dict[str, Any] = (
            {} if job.checkpoint is None else json.loads(vault.unseal(job, "checkpoint"))
        )
        self._written_at = 0.0

    def step(self, done: int, total: int, words: Text = "") -> None:
        """Tell how far it is, in words without bittings; raises where the job shall stop here."""
        is_first = self.job.run_from is None
        if is_first:
            self.job.run_from = done
        self.job.done, self.job.total, self.job.words = done, total, words[: Job.LONGEST_WORDS]
        if is_first or monotonic() - self._written_at >= SECONDS_BETWEEN_WRITES:
            self.write_progress()
            self._stop_where_asked()

    def save(self, checkpoint: dict[str, Any]) -> None:
        """Go on from here after a stop, or after a worker died."""
        self.checkpoint = checkpoint
        self._write(
            checkpoint=vault.seal(self.job, "checkpoint", json.dumps(checkpoint, cls=DjangoJSONEncoder))
        )

    def attach(self, name: str, content_type: str, content: bytes, *, subjects: Sequence[Model] = ()) -> None:
        """Keep a file of the job, sealed; one of the same name from an earlier run is replaced."""
        self._write()
        JobFile.objects.filter(job=self.job, name=name).delete()
        file = JobFile(job=self.job, name=name, content_type=content_type, size=len(content))
        file.subjects = [[thing._meta.label_lower, str(thing.pk)] for thing in subjects]
        file.content = vault.seal_bytes(file, "content", content)
        file.save(force_insert=True)

    def write_progress(self) -> None:
        """What ``step`` told last; its writes are some time apart."""
        self._written_at = monotonic()
        job = self.job
        if job.run_at is not None:
            job.marks = note(job.marks, round((timezone.now() - job.run_at).total_seconds(), 1), job.done)
        self._write(done=job.done, total=job.total, words=job.words, run_from=job.run_from, marks=job.marks)

    def _write(self, **facts: Any) -> None:
        """Only while the job is this run's own."""
        mine = Job.objects.filter(pk=self.job.pk, run=self.job.run)
        if not mine.update(heartbeat_at=timezone.now(), **facts):
            raise Overtaken

    def _stop_where_asked(self) -> None:
        if Job.objects.filter(pk=self.job.pk, state=Job.State.STOPPING).exists():
            raise Cancelled
        if ending.is_asked:
            raise WorkerEnds
