"""Thinking a key system through before any key is made: work out, change, throw away, make."""

import json
from collections.abc import Sequence
from dataclasses import asdict, replace
from random import Random, SystemRandom
from typing import Any

from django.db import transaction
from django.urls import reverse
from django.utils.translation import gettext as _

from keyctl import engine
from keyctl.accounts.models import User
from keyctl.audit.services import record
from keyctl.jobs.models import Job
from keyctl.jobs.services import start_job
from keyctl.lib.errors import Conflict, Refused
from keyctl.lib.numbers import as_number
from keyctl.places.models import Site
from keyctl.systems.access import DESIGNERS, require_designer
from keyctl.systems.models import KeySystem, SystemDraft
from keyctl.systems.services.adding import refuse_place
from keyctl.systems.services.entries import count_of
from keyctl.vault import services as vault

MOST_KEYS = 100_000
DESIGN_JOB = "design-system"


@transaction.atomic
def work_out(
    *,
    actor: User,
    sites: Sequence[Site],
    code: str,
    name: str,
    keyway: str,
    wanted: engine.Wanted,
    draft: SystemDraft | None = None,
    rng: Random | None = None,
) -> SystemDraft:
    """Draw the top master and the control key, seal them, and count the room of every level.

    A ``draft`` that is worked out again is drawn anew; a top master of its own that is not typed again is
    kept. ``rng`` is for tests; a real system is drawn from the operating system's source of chance.
    """
    if draft is not None:
        require_designer(actor, draft.sites.all())
        draft = _open_draft(draft)
        _refuse_being_made(draft)
        wanted = _with_kept_master(draft, wanted)
    refuse_place(actor, sites, code)
    _refuse_taken(code, draft)
    _refuse_size(wanted)
    design = engine.Design.work_out(wanted, rng or SystemRandom())
    draft = draft or SystemDraft(created_by=actor)
    draft.code, draft.name, draft.keyway = code, name, keyway
    _save(draft, wanted, design)
    draft.sites.set(sites)
    record(
        actor=actor,
        verb="draft.worked_out",
        sentence=f"worked out a draft of the key system {code}",
        site_id=sites[0].pk,
        subjects=[draft],
        detail={"needs": draft.needs},
    )
    return draft


@transaction.atomic
def discard_draft(*, actor: User, draft: SystemDraft) -> None:
    """Throw a draft away; what was drawn for it is gone."""
    require_designer(actor, draft.sites.all())
    draft = _open_draft(draft)
    site = draft.sites.order_by("code")[0]
    record(
        actor=actor,
        verb="draft.discarded",
        sentence=f"threw the draft of the key system {draft.code} away",
        site_id=site.pk,
        subjects=[draft],
    )
    draft.delete()


@transaction.atomic
def make_keys(*, actor: User, draft: SystemDraft) -> Job:
    """Start the job that stores every key of a draft."""
    require_designer(actor, draft.sites.all())
    draft = _open_draft(draft)
    if draft.facts.get("job"):
        raise Conflict(_("The keys of {code} are being made already.").format(code=draft.code))
    if KeySystem.objects.filter(code=draft.code).exists():
        raise Refused(
            _("There is a key system {code} by now; change the draft's code first.").format(code=draft.code)
        )
    job = start_job(
        actor=actor,
        kind=DESIGN_JOB,
        site=_home(actor, draft),
        parameters={"draft": str(draft.pk)},
        subjects=[draft],
        back_url=reverse("systems:draft", args=[draft.pk]),
        about=draft.code,
    )
    draft.facts = {**draft.facts, "job": str(job.pk)}
    draft.save(update_fields=["facts"])
    return job


def wanted_of(draft: SystemDraft) -> engine.Wanted:
    """What its designer asked for; the top master in it is as secret as a bitting."""
    facts = json.loads(vault.unseal(draft, "asked"))
    return engine.Wanted(**{name: _frozen(value) for name, value in facts.items()})


def drawn_for(draft: SystemDraft) -> engine.Design:
    return engine.Design.of(draft.format_id, json.loads(vault.unseal(draft, "design")))


def _frozen(value: Any) -> Any:
    return tuple(map(_frozen, value)) if isinstance(value, list) else value


def _open_draft(draft: SystemDraft) -> SystemDraft:
    locked = SystemDraft.objects.select_for_update().filter(pk=draft.pk).first()
    if locked is None or locked.system_id is not None:
        raise Conflict(_("The keys of this draft are being made or made already; it cannot be changed."))
    return locked


def _refuse_being_made(draft: SystemDraft) -> None:
    """Thrown away it may be while its job waits; the job makes no other keys than those that were seen."""
    if Job.objects.filter(pk=draft.facts.get("job")).unfinished().exists():
        raise Conflict(_("The keys of this draft are being made. Stop that job before you change the draft."))


def _with_kept_master(draft: SystemDraft, wanted: engine.Wanted) -> engine.Wanted:
    """The top master and the array are never shown again, so an empty field keeps what was typed before."""
    before = wanted_of(draft)
    if before.master is None or before.format_id != wanted.format_id or wanted.master or wanted.parity:
        return wanted
    return replace(wanted, master=before.master, array=wanted.array or before.array)


def _refuse_taken(code: str, draft: SystemDraft | None) -> None:
    others = SystemDraft.objects.filter(code=code, made_at__isnull=True)
    if (others.exclude(pk=draft.pk) if draft else others).exists():
        raise Refused(_("There is a draft {code} already; choose another code.").format(code=code))


def _refuse_size(wanted: engine.Wanted) -> None:
    engine.refuse_wanted(wanted)
    if not 1 <= len(wanted.needs) < engine.MOST_LEVELS or any(need < 1 for need in wanted.needs):
        raise Refused(
            _(
                "Say for one to {number} levels below the top how many keys stand below each key above."
            ).format(number=engine.MOST_LEVELS - 1)
        )
    if (count := count_of(wanted.needs, has_control=True)) > MOST_KEYS:
        raise Refused(
            _(
                "These are {count} keys; {most_keys} can be made at once. Make fewer now and extend later."
            ).format(count=as_number(count), most_keys=as_number(MOST_KEYS))
        )


def _save(draft: SystemDraft, wanted: engine.Wanted, design: engine.Design) -> None:
    draft.format_id, draft.needs = wanted.format_id, list(wanted.needs)
    draft.asked = vault.seal(draft, "asked", json.dumps(asdict(wanted)))
    draft.design = vault.seal(draft, "design", json.dumps(design.parameters))
    draft.rooms = [asdict(room) for room in design.rooms(wanted.needs)]
    draft.facts = _facts(wanted, design)
    draft.save()


def _facts(wanted: engine.Wanted, design: engine.Design) -> dict[str, Any]:
    """What the page tells of a design; nothing that a bitting follows from."""
    return {
        "keys": count_of(wanted.needs, has_control=design.control is not None),
        "has_control": design.control is not None,
        "held_back": design.held_back,
        "idle_positions": design.idle_positions,
        "positions": [len(group) for group in design.tree.groups],
        "constants": list(design.tree.constants),
        "own_master": wanted.master is not None,
        "own_array": wanted.array is not None,
        "rules": wanted.rules,
        "pages": asdict(design.pages),
    }


def _home(actor: User, draft: SystemDraft) -> Site:
    """The site whose history tells it: one of the draft's where the actor works with keys."""
    return Site.objects.for_roles(actor, *DESIGNERS).filter(system_drafts=draft).order_by("code")[0]
