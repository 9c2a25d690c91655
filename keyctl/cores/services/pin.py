from collections.abc import Callable, Iterable

from django.db import transaction
from django.utils import timezone
from django.utils.translation import gettext as _

from keyctl import engine
from keyctl.accounts.models import User
from keyctl.audit.services import record
from keyctl.cores.models import Core, Turn
from keyctl.cores.services.locking import lock_core
from keyctl.cores.turning import turns_by_all
from keyctl.lib.errors import Refused
from keyctl.systems.models import KeySymbol, KeySystem
from keyctl.systems.selectors import LINE, control_of, line_of
from keyctl.systems.services import bitting_of
from keyctl.vault import services as vault


@transaction.atomic
def pin_core(*, actor: User, core: Core, version: int) -> Core:
    """Work out the stacks from the plan, seal them, and find every key that turns the result."""
    core = lock_core(actor, core.pk, version)
    if core.place in {Core.Place.HOUSING, Core.Place.GONE}:
        raise Refused(
            _("Core {core} is {whereabouts}; bring it to the bench first.").format(
                core=core, whereabouts=core.whereabouts
            )
        )
    pinned = plan_of(core)
    store_pins(actor, core, pinned)
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
    return pins_for(core.format_id, symbols, control_of(_system_of(core)))


def pins_for(
    format_id: str,
    symbols: Iterable[KeySymbol],
    control: KeySymbol | None,
    bitting: Callable[[KeySymbol], str] = bitting_of,
) -> engine.Pinning:
    """The pins for these keys and every master above them; ``bitting`` may remember what it unsealed."""
    line = {key.pk: key for symbol in symbols for key in line_of(symbol)}
    return engine.pin(format_id, sorted(map(bitting, line.values())), bitting(control) if control else None)


def store_pins(actor: User, core: Core, pinned: engine.Pinning) -> list[Turn]:
    """Seal the pins of a locked core and find every key that turns them."""
    core.pinning = vault.seal(core, "pinning", engine.dump(pinned))
    core.pinned_at = timezone.now()
    core.pinned_by = actor
    core.version += 1
    core.save(update_fields=["pinning", "pinned_at", "pinned_by", "version"])
    Turn.objects.filter(core=core).delete()
    return Turn.objects.bulk_create(turns_by_all(core, pinned))


def _system_of(core: Core) -> KeySystem:
    if core.system is None:
        raise Refused(_("Core {core} is keyed to no system; key it first.").format(core=core))
    return core.system
