"""A proof as a job: family by family, batch by batch, each batch kept with what it found."""

from collections.abc import Callable, Iterator
from datetime import datetime
from typing import Any
from uuid import UUID

from django.db import transaction
from django.db.models import Exists, OuterRef
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext, gettext_lazy, ngettext

from keyctl.accounts.models import User
from keyctl.cores import proof as proving
from keyctl.cores.models import Core
from keyctl.cores.turning import KeyFamily
from keyctl.formats.keyways import mark_tried
from keyctl.jobs.kinds import register_kind
from keyctl.jobs.models import Job
from keyctl.jobs.running import Running
from keyctl.jobs.services import start_job
from keyctl.lib.errors import Conflict, Refused
from keyctl.lib.numbers import as_number
from keyctl.places.models import Site
from keyctl.proofs.access import provable_sites, require_prover
from keyctl.proofs.causes import explain
from keyctl.proofs.models import Finding, Proof
from keyctl.systems.models import KeySymbol, KeySystem

PROVE = "proofs.prove"
ROWS_AT_ONCE = 1000
DOING = gettext_lazy("Trying every key on every core")

Place = dict[str, Any]
"""Where a proof goes on: the family it is at, after which core, and how many cores are done."""


def register_kinds() -> None:
    register_kind(PROVE, gettext_lazy("Prove cores"), run_proof)


@transaction.atomic
def start_proof(*, actor: User, site: Site | None = None, system: KeySystem | None = None) -> Job:
    """Ask for a proof of a site, of a system, or of the whole estate where neither is named."""
    proof = _new_proof(actor, site, system)
    home = site or _home(actor, system)
    job = start_job(
        actor=actor,
        kind=PROVE,
        site=home,
        parameters={"proof": str(proof.pk)},
        subjects=[thing for thing in (site, system) if thing],
        back_url=reverse("proofs:list"),
        about=proof.of,
    )
    proof.job = job
    proof.save(update_fields=["job"])
    return job


def prove_now(
    *,
    actor: User,
    watch: proving.Watcher | None = None,
    place: Place | None = None,
    save: Callable[[Place], None] | None = None,
) -> Proof:
    """The whole estate here and now, for a command; a page starts a job.

    ``save`` is handed the place after each batch, in its transaction; a ``place`` is gone on from.
    """
    place = place or {}
    proof = Proof.objects.get(pk=place["proof"]) if place else _new_proof(actor, None, None)
    keep = save or _forget
    for done in _advance(proof, place, lambda reached: keep({"proof": str(proof.pk), **reached})):
        if watch:
            watch(done)
    if proof.finished_at is None:
        _finish(proof, actor)
    return proof


def run_proof(running: Running) -> dict[str, Any]:
    """The work of the job; what it kept before a stop stays."""
    proof = Proof.objects.select_related("site", "system").get(pk=running.parameters["proof"])
    require_prover(running.actor, proof.scope)
    total = proof.scope.total
    place = running.checkpoint
    running.step(place.get("done", 0), total, DOING)
    for done in _advance(proof, place, running.save):
        running.step(done, total, DOING)
    _finish(proof, running.actor)
    found = proof.findings.count()
    words = ngettext("{count} finding", "{count} findings", found).format(count=as_number(found))
    return {
        "sentence": gettext("Proved {of}: {words}.").format(
            of=proof.of, words=words if found else gettext("nothing differs from the plan")
        ),
        "url": reverse("proofs:detail", args=[proof.pk]),
        "facts": {gettext("Cores"): total, gettext("Keys"): proof.keys, gettext("Findings"): found},
    }


def _new_proof(actor: User, site: Site | None, system: KeySystem | None) -> Proof:
    if site and system:
        raise Refused(gettext("Prove a site or a system; a proof is of one of them."))
    scope = proving.Scope(site, system)
    require_prover(actor, scope)
    if not scope.total:
        raise Refused(
            gettext("No core of {of} is pinned; there is nothing to prove.").format(
                of=Proof(site=site, system=system).of
            )
        )
    running = Proof.objects.filter(site=site, system=system, job__state__in=Job.UNFINISHED)
    if running.exists():
        raise Conflict(gettext("The same proof is running already; its job tells how far it is."))
    return Proof.objects.create(site=site, system=system, asked_by=actor, keys=KeySymbol.objects.count())


def _home(actor: User, system: KeySystem | None) -> Site:
    """The site whose job it is: one of the system's where the actor may prove, else the first."""
    sites = provable_sites(actor)
    return (sites.filter(key_systems=system) if system else sites).order_by("code")[0]


def _families(scope: proving.Scope, after: Place) -> Iterator[KeyFamily]:
    """In one fixed order, beginning with the family where it stopped."""
    all_families = [KeyFamily.of(scope.system)] if scope.system else proving.families()
    reached = (after.get("format", ""), after.get("keyway", ""))
    return (family for family in all_families if (family.format_id, family.keyway) >= reached)


def _advance(proof: Proof, place: Place, save: Callable[[Place], None]) -> Iterator[int]:
    """Batch by batch; after each, how many cores are done. What a batch found and its place are one act."""
    done = place.get("done", 0)
    for family in _families(proof.scope, place):
        is_same = (family.format_id, family.keyway) == (place.get("format"), place.get("keyway"))
        prover = proving.Prover(family, proof.scope, UUID(place["after"]) if is_same else None)
        while True:
            with transaction.atomic():
                batch = prover.take(store=True)
                if batch is None:
                    break
                _keep(proof, batch)
                done += len(batch.cores)
                save(_place(family, batch, done))
            yield done


def _forget(_place: Place) -> None:
    """A command that keeps no place begins anew."""


def _place(family: KeyFamily, batch: proving.Batch, done: int) -> Place:
    after = str(batch.cores[-1].pk)
    return {"format": family.format_id, "keyway": family.keyway, "after": after, "done": done}


def _keep(proof: Proof, batch: proving.Batch) -> None:
    """Findings of cores that are gone are of no use to anybody."""
    rows = [
        Finding(
            proof=proof,
            core=each.found.core,
            symbol=each.symbol,
            site_id=each.found.core.site_id,
            pinned_at=_moment(each.found.core),
            kind=each.found.kind,
            cause=each.cause,
            words=each.words,
            is_foreign=each.is_foreign,
        )
        for each in explain(batch)
        if each.found.core.place != Core.Place.GONE
    ]
    Finding.objects.bulk_create(rows, batch_size=ROWS_AT_ONCE)
    for core in batch.cores:
        figures = proof.figures.setdefault(str(core.site_id), [0, 0, 0])
        effects = batch.effects[core.pk].values()
        figures[0] += 1
        figures[1] += sum(operates for operates, _ in effects)
        figures[2] += sum(withdraws for _, withdraws in effects)
    proof.save(update_fields=["figures"])


def _moment(core: Core) -> datetime:
    if core.pinned_at is None:  # pinned cores only are proved
        raise AssertionError
    return core.pinned_at


@transaction.atomic
def _finish(proof: Proof, actor: User) -> None:
    proof.before = _before(proof)
    proof.finished_at = timezone.now()
    proof.keys = KeySymbol.objects.count()
    proof.save(update_fields=["before", "finished_at", "keys"])
    if proof.before:
        known = proof.before.findings.filter(
            core=OuterRef("core"), symbol=OuterRef("symbol"), kind=OuterRef("kind")
        )
        proof.findings.filter(~Exists(known)).update(is_new=True)
    if proof.scope.is_whole:
        mark_tried()
    tried = sum(row[0] for row in proof.figures.values())
    totals = proving.Proof(cores=tried, keys=proof.keys)
    proving.record_proof(actor, totals, proof.findings.count(), proof.scope)


def _before(proof: Proof) -> Proof | None:
    same = Proof.objects.filter(site=proof.site, system=proof.system, finished_at__isnull=False)
    return same.exclude(pk=proof.pk).order_by("-finished_at").first()
