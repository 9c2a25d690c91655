"""Storing every key of a draft, batch by batch: what the worker does, and goes on with after a stop."""

from collections.abc import Iterable, Iterator
from itertools import islice
from typing import Any

from django.db import transaction
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from keyctl.audit.services import record
from keyctl.jobs.running import Running
from keyctl.lib.errors import Conflict, Refused
from keyctl.lib.numbers import as_number
from keyctl.systems.access import require_designer
from keyctl.systems.models import KeySymbol, KeySystem, SystemDraft
from keyctl.systems.services.adding import refuse_place, save_system
from keyctl.systems.services.drafting import drawn_for
from keyctl.systems.services.entries import entries_of
from keyctl.systems.services.storing import NewKey, store_keys

KEYS_AT_ONCE = 1000
THROWN_AWAY = gettext_lazy("The draft was thrown away; there is nothing to make.")


def make_system(running: Running) -> dict[str, Any]:
    draft = SystemDraft.objects.filter(pk=running.parameters["draft"]).first()
    if draft is None:
        raise Refused(THROWN_AWAY)
    require_designer(running.actor, draft.sites.all())
    system = draft.system or _begin(running, draft)
    design = drawn_for(draft)
    done, total = int(running.checkpoint.get("done", 0)), draft.facts["keys"]
    for batch in _batches(islice(entries_of(design, draft.needs), done, None)):
        running.step(done, total, _told(done, total))
        done += len(batch)
        _store(running, system, batch, done)
    running.step(done, total, _("{done} keys are made").format(done=as_number(done)))
    _end(running, draft, system, done)
    return {
        "sentence": _("{name} has {done} keys on {levels} levels.").format(
            name=system.name, done=as_number(done), levels=system.levels
        ),
        "url": reverse("systems:detail", args=[system.pk]),
        "facts": {_("Keys"): done, _("Levels"): system.levels},
    }


def _told(done: int, total: int) -> str:
    return _("{done} of {total} keys are made").format(done=as_number(done), total=as_number(total))


@transaction.atomic
def _begin(running: Running, draft: SystemDraft) -> KeySystem:
    _refuse_changed(running, draft)
    sites = list(draft.sites.order_by("code"))
    refuse_place(running.actor, sites, draft.code)
    system = KeySystem(
        code=draft.code,
        name=draft.name,
        format_id=draft.format_id,
        keyway=draft.keyway,
        levels=len(draft.needs) + 1,
        created_by=running.actor,
    )
    save_system(system, sites, drawn_for(draft))
    draft.system = system
    draft.save(update_fields=["system"])
    return system


def _refuse_changed(running: Running, draft: SystemDraft) -> None:
    """From here on the draft is held; one that was worked out anew is another job's, if any's."""
    if not SystemDraft.objects.select_for_update().filter(pk=draft.pk).exists():
        raise Refused(THROWN_AWAY)
    draft.refresh_from_db()
    if draft.facts.get("job") != str(running.job.pk) or draft.system_id is not None:
        raise Conflict(
            _("The draft was changed since this was asked for. Look at it, and make its keys anew.")
        )


@transaction.atomic
def _store(running: Running, system: KeySystem, batch: list[NewKey], done: int) -> None:
    locked = KeySystem.objects.select_for_update().get(pk=system.pk)
    store_keys(locked, batch, KeySymbol.Origin.DESIGNED)
    running.save({"done": done})


@transaction.atomic
def _end(running: Running, draft: SystemDraft, system: KeySystem, count: int) -> None:
    draft.made_at = timezone.now()
    draft.save(update_fields=["made_at"])
    record(
        actor=running.actor,
        verb="system.designed",
        sentence=f"designed the key system {system.code} with {count:,} keys on {system.levels} levels",
        site_id=running.job.site_id,
        subjects=[system],
    )


def _batches(entries: Iterable[NewKey]) -> Iterator[list[NewKey]]:
    left = iter(entries)
    while batch := list(islice(left, KEYS_AT_ONCE)):
        yield batch
