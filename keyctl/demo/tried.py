"""What is worked out from the invented estate's pins and words: a proof, exposure, the words of the search.

Each keeps what it did as it goes, so a stop in the middle costs a batch.
"""

from functools import partial

from keyctl.accounts.models import User
from keyctl.audit.models import Event
from keyctl.audit.services import record
from keyctl.cores.models import Core
from keyctl.demo import people
from keyctl.demo.parts import Part, Watch
from keyctl.exposure.assessing import KIND
from keyctl.exposure.services import assess
from keyctl.jobs.execution import give_back, run_job
from keyctl.jobs.models import Job
from keyctl.places.models import Site
from keyctl.places.roles import Role
from keyctl.proofs.services import Place, prove_now
from keyctl.search.models import Stale
from keyctl.search.services import AT_ONCE, bring_up_to_date

PROVING = "demo.proving"


def proof(weight: float) -> Part:
    return Part("proving the estate: every key against the pins of every core", "proof", weight, go_on=_prove)


def assessment(number: int, weight: float) -> Part:
    stage = "assessing how exposed the cores are"
    return Part(stage, f"exposure {number + 1}", weight, go_on=partial(_assess, number))


def search(weight: float) -> Part:
    return Part("reading words for the search", "search", weight, go_on=_read)


def _officer() -> User:
    return people.made_people()[Role.OFFICER]


def _prove(watch: Watch) -> None:
    total = Core.objects.filter(pinning__isnull=False).count()
    last = Event.objects.filter(verb=PROVING).order_by("pk").last()
    prove_now(
        actor=_officer(),
        watch=lambda done: watch(done / total),
        place=last.detail if last else {},
        save=_keep_place,
    )


def _keep_place(place: Place) -> None:
    sentence = f"tried every key on {place['done']} cores"
    record(actor=None, verb=PROVING, sentence=sentence, detail=place)


def _assess(number: int, _watch: Watch) -> None:
    site = Site.objects.order_by("code")[number]
    jobs = Job.objects.filter(kind=KIND, site=site)
    if jobs.filter(state=Job.State.DONE).exists():
        return
    job = jobs.unfinished().first() or assess(actor=_officer(), site=site)
    if job.state == Job.State.RUNNING:
        # By a run of the command that was stopped.
        give_back(job)
    run_job(job.pk)


def _read(watch: Watch) -> None:
    total = Stale.objects.count()
    while not bring_up_to_date(AT_ONCE):
        watch(1 - Stale.objects.count() / total)
