from collections.abc import Iterable, Sequence

from django.db import transaction
from django.utils.translation import gettext as _

from keyctl.accounts.models import User
from keyctl.audit.services import record
from keyctl.cores.models import Core, Keying, Turn
from keyctl.cores.services.locking import lock_core
from keyctl.cores.services.register import KEEPERS, refuse_symbols, refuse_system
from keyctl.lib.errors import Refused
from keyctl.lib.standing import joined, standing_on
from keyctl.systems.models import KeySymbol, KeySystem


@transaction.atomic
def correct_core(
    *, actor: User, core: Core, version: int, system: KeySystem, symbols: Sequence[KeySymbol]
) -> Core:
    """Put right what a new core was written down to be keyed to, before anything was done with it."""
    core = lock_core(actor, core.pk, version, KEEPERS)
    refuse_correction(core, system)
    refuse_system(core.site, system)
    refuse_symbols(system, symbols)
    before = {"system": core.system.code if core.system else None, "keyed_to": _names(core.keyed_to.all())}
    Keying.objects.filter(core=core).delete()
    Keying.objects.bulk_create([Keying(core=core, symbol=symbol) for symbol in symbols])
    core.system, core.version = system, core.version + 1
    core.save(update_fields=["system", "version"])
    after = {"system": system.code, "keyed_to": _names(symbols)}
    record(
        actor=actor,
        verb="core.corrected",
        sentence=f"corrected core {core}: keyed to {', '.join(after['keyed_to'])} of {system.code}",
        site_id=core.site_id,
        subjects=[core, *symbols],
        detail={"before": before, "after": after},
    )
    return core


def refuse_correction(core: Core, system: KeySystem) -> None:
    """Once there are pins, or work that counts on it, a core is keyed anew by an order and not by a pen."""
    if core.is_pinned:
        raise Refused(_("Core {core} holds pins; open an order that keys it anew.").format(core=core))
    if core.place in {Core.Place.HOUSING, Core.Place.GONE}:
        raise Refused(
            _("Core {core} is {whereabouts}; only a core in hand is keyed to other keys.").format(
                core=core, whereabouts=core.whereabouts
            )
        )
    if found := standing_on(core, besides=(Keying, Turn)):
        raise Refused(
            _("Work counts on what core {core} is keyed to: {joined}. Register another core.").format(
                core=core, joined=joined(found)
            )
        )
    if core.format_id != system.format_id:
        raise Refused(
            _("Core {core} is of another format than the keys of {code}; register it anew.").format(
                core=core, code=system.code
            )
        )


def _names(symbols: Iterable[KeySymbol]) -> list[str]:
    return sorted(map(str, symbols))
