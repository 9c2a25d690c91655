from django.db import transaction
from django.utils import timezone

from keyctl import engine
from keyctl.accounts.models import User
from keyctl.audit.services import record
from keyctl.cores.models import Core, Turn
from keyctl.cores.services.locking import lock_core
from keyctl.cores.turning import KeyFamily, turns_of
from keyctl.lib.errors import Refused
from keyctl.systems.models import KeySymbol, KeySystem
from keyctl.systems.selectors import LINE, control_of, line_of
from keyctl.systems.services import bitting_of
from keyctl.vault import services as vault


@transaction.atomic
def pin_core(*, actor: User, core: Core, version: int) -> Core:
    """Work out the stacks from the plan, seal them, and find every key that turns the result."""
    core = lock_core(actor, core.pk, version)
    system = _system_of(core)
    if core.place in {Core.Place.HOUSING, Core.Place.GONE}:
        raise Refused(f"Core {core} is {core.whereabouts}; bring it to the bench first.")
    pinned = plan_of(core)
    _store(actor, core, pinned)
    Turn.objects.filter(core=core).delete()
    Turn.objects.bulk_create(turns_of(core, pinned, KeyFamily.of(system).keys()))
    record(
        actor=actor,
        verb="core.pinned",
        sentence=f"pinned core {core}",
        site_id=core.site_id,
        subjects=[core],
        detail={"format": core.format_id, "accepts": pinned.accepts},
    )
    return core


def plan_of(core: Core) -> engine.Pinning:
    """The pins that the core's keying asks for; refused with every reason where they cannot be."""
    symbols = KeySymbol.objects.filter(keyings__core=core).select_related(LINE)
    line = {key.pk: key for symbol in symbols for key in line_of(symbol)}
    control = control_of(_system_of(core))
    return engine.pin(
        core.format_id,
        sorted(map(bitting_of, line.values())),
        bitting_of(control) if control is not None else None,
    )


def _system_of(core: Core) -> KeySystem:
    if core.system is None:
        raise Refused(f"Core {core} is keyed to no system; key it first.")
    return core.system


def _store(actor: User, core: Core, pinned: engine.Pinning) -> None:
    core.pinning = vault.seal(core, "pinning", engine.dump(pinned))
    core.pinned_at = timezone.now()
    core.pinned_by = actor
    core.version += 1
    core.save(update_fields=["pinning", "pinned_at", "pinned_by", "version"])
