from collections.abc import Sequence

from django.db import transaction
from django.utils.translation import gettext as _

from keyctl import engine
from keyctl.accounts.models import User
from keyctl.audit.services import record
from keyctl.cores.models import Core, Keying
from keyctl.lib.errors import Refused
from keyctl.places.access import require_role
from keyctl.places.models import Site
from keyctl.places.roles import Role
from keyctl.systems.models import KeySymbol, KeySystem

# Who writes down what cores there are, what they are keyed to and where they lie; only locksmiths pin them.
KEEPERS = (Role.LOCKSMITH, Role.INTEGRATION)


@transaction.atomic
def register_core(*, actor: User, site: Site, system: KeySystem, symbols: Sequence[KeySymbol]) -> Core:
    """A new core on the bench, keyed to its symbols and not pinned yet."""
    require_role(actor, site, *KEEPERS)
    refuse_system(site, system)
    refuse_symbols(system, symbols)
    core = Core.objects.create(
        site=site,
        system=system,
        format_id=system.format_id,
        construction=engine.load_format(system.format_id).construction,
        place=Core.Place.BENCH,
    )
    Keying.objects.bulk_create([Keying(core=core, symbol=symbol) for symbol in symbols])
    record(
        actor=actor,
        verb="core.registered",
        sentence=f"registered core {core}, keyed to {', '.join(map(str, symbols))} of {system.code}",
        site_id=site.pk,
        subjects=[core, *symbols],
    )
    return core


def refuse_system(site: Site, system: KeySystem) -> None:
    if not system.sites.filter(pk=site.pk).exists():
        raise Refused(
            _("{system} is not used at {site}; choose a system of that site.").format(
                system=system, site=site
            )
        )


def refuse_symbols(system: KeySystem, symbols: Sequence[KeySymbol]) -> None:
    """What a core may be keyed to: operating keys of its own system, one at least."""
    if not symbols:
        raise Refused(_("A core is keyed to one key symbol at least; choose one."))
    for symbol in symbols:
        if symbol.system_id != system.pk:
            raise Refused(
                _("{symbol} belongs to another key system; choose symbols of {code}.").format(
                    symbol=symbol, code=system.code
                )
            )
        if symbol.is_retired:
            raise Refused(
                _("{symbol} is retired after a loss; choose the key that took its place.").format(
                    symbol=symbol
                )
            )
        if symbol.is_control:
            raise Refused(_("A core is keyed to operating keys; its control key follows from the system."))
