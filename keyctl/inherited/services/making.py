"""Making a key system of a candidate: its masters and control key sealed, keys in circulation added."""

from collections import defaultdict
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace
from uuid import UUID

from django.db import transaction
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from keyctl import engine
from keyctl.accounts.models import User
from keyctl.audit.services import record
from keyctl.cores.models import Core, Keying, Turn
from keyctl.cores.services.locking import locked_cores
from keyctl.cores.turning import KeyFamily, pins_of, turns_of
from keyctl.inherited.access import BRINGERS
from keyctl.inherited.naming import NamedKey, named_keys
from keyctl.inherited.services.reconstructing import Asked, refuse_cores, worked_out
from keyctl.inherited.typed import typed_cores, typed_keys
from keyctl.lib.errors import Conflict, Refused
from keyctl.places.access import require_role
from keyctl.systems.models import KeySymbol, KeySystem
from keyctl.systems.services import NewKey, add_symbols, bitting_of, open_system

CHANGED = gettext_lazy("The cores or their pins have changed since. Reconstruct the system again.")


def make_system(
    *, actor: User, asked: Asked, candidate: int, share: str, code: str, name: str, keyway: str
) -> KeySystem:
    """Work the reconstruction out again from what was given, and open a system with that candidate on top.

    ``share`` is the chance that the page showed for it: where it is another now, the cores were changed.
    Cores of no system whose own change key is among the keys in circulation come into it, keyed to that key.
    """
    require_role(actor, asked.site, *BRINGERS)
    refuse_cores(asked)
    format = engine.load_format(asked.format_id)
    keys = typed_keys(format, asked.keys)
    again = worked_out(replace(asked, next_cores=""), typed_cores(format, asked.typed), keys)
    _refuse_other(again, candidate, share)
    # Not sooner: working it out takes seconds, in which nobody else shall wait to write.
    with transaction.atomic():
        # No key that enters is added meanwhile, else the stored turns of these cores would miss it.
        KeyFamily(asked.format_id, keyway).hold()
        _refuse_changed(asked.cores)
        return _stored(actor, asked, again, keys, candidate=candidate, code=code, name=name, keyway=keyway)


def _refuse_other(again: engine.Reconstructed, candidate: int, share: str) -> None:
    if not 0 <= candidate < len(again.found.candidates):
        raise Refused(_("There is no such candidate. Reconstruct the system again."))
    if f"{again.found.candidates[candidate].share:.6f}" != share:
        raise Conflict(CHANGED)


def _refuse_changed(cores: Sequence[Core]) -> None:
    """Hold the cores, which must be those that were worked with."""
    held = locked_cores(core.pk for core in cores)
    if any(core.pk not in held or held[core.pk].version != core.version for core in cores):
        raise Conflict(CHANGED)


def _stored(
    actor: User,
    asked: Asked,
    again: engine.Reconstructed,
    keys: Mapping[str, str],
    *,
    candidate: int,
    code: str,
    name: str,
    keyway: str,
) -> KeySystem:
    levels, named = named_keys(again, candidate, keys)
    control = again.found.control.bitting if again.found.control else None
    system = open_system(
        actor=actor,
        sites=[asked.site],
        code=code,
        name=name,
        format_id=asked.format_id,
        keyway=keyway,
        levels=levels,
        control=control.text if control else None,
    )
    added = add_symbols(
        actor=actor, system=system, entries=list(_entries(named)), origin=KeySymbol.Origin.BROUGHT_IN
    )
    adopted = _adopt(system, _own_keys(asked, again, keys), added)
    record(
        actor=actor,
        verb="inherited.system_made",
        sentence=f"made the key system {code} of candidate {candidate + 1} of a reconstruction",
        site_id=asked.site.pk,
        subjects=[system, *asked.cores],
        detail={
            "cores": len(again.found.cores),
            "keys": len(named),
            "adopted": len(adopted),
            "share": round(again.found.candidates[candidate].share, 4),
        },
    )
    return system


def _own_keys(asked: Asked, again: engine.Reconstructed, keys: Mapping[str, str]) -> dict[UUID, list[str]]:
    """By core of no system, the cuts of its change keys; a cross-keyed one may have several."""
    known: dict[str, list[str]] = defaultdict(list)
    for name, turned, what in again.found.key_parts:
        if what == "change":
            known[turned[0]].append(keys[name])
    members = {core.name for core in again.found.members}
    free = [core for core in asked.cores if core.system_id is None and str(core) in members]
    return {core.pk: known[str(core)] for core in free if str(core) in known}


def _adopt(system: KeySystem, own: Mapping[UUID, Sequence[str]], added: Sequence[KeySymbol]) -> list[Core]:
    """Take the cores into the system, key each to its keys, and find every key that turns it."""
    by_cuts = {bitting_of(symbol): symbol for symbol in added if not symbol.is_control}
    cores = [core for core in locked_cores(own).values() if core.system_id is None]
    index, turns = KeyFamily.of(system).keys(), list[Turn]()
    for core in cores:
        core.system, core.version = system, core.version + 1
        core.save(update_fields=["system", "version"])
        turns += turns_of(core, pins_of(core), index)
    pairs = [(core, by_cuts[cuts]) for core in cores for cuts in own[core.pk]]
    Keying.objects.bulk_create([Keying(core=core, symbol=symbol) for core, symbol in pairs])
    Turn.objects.filter(core__in=cores).delete()
    Turn.objects.bulk_create(turns, batch_size=2000)
    return cores


def _entries(named: list[NamedKey]) -> Iterator[NewKey]:
    for key in named:
        kind = KeySymbol.Kind.MASTER if key.is_master else KeySymbol.Kind.CHANGE
        yield NewKey(key.symbol, kind, key.bitting, key.parent, key.level, key.ordinal)
