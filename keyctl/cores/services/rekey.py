from collections.abc import Mapping, Sequence
from uuid import UUID

from django.db import transaction
from django.utils.translation import gettext as _

from keyctl.accounts.models import User
from keyctl.audit.services import record
from keyctl.cores.disputes import refuse_disputed
from keyctl.cores.models import Core, Keying
from keyctl.cores.services.locking import locked_cores
from keyctl.cores.services.register import refuse_symbols
from keyctl.lib.errors import Refused
from keyctl.places.models import Site
from keyctl.systems.models import KeySymbol, KeySystem


@transaction.atomic
def rekey_cores(
    *, actor: User, site: Site, system: KeySystem, keyings: Mapping[UUID, Sequence[KeySymbol]]
) -> list[Core]:
    """Cores in hand are keyed to other keys; their pins stay as they are until they are pinned anew.

    Inside an act whose own service has asked for its role.
    """
    cores = list(locked_cores(keyings).values())
    for core in cores:
        _refuse_rekeying(core, system)
        refuse_symbols(system, keyings[core.pk])
    Keying.objects.filter(core__in=cores).delete()
    Keying.objects.bulk_create(
        [Keying(core=core, symbol=symbol) for core in cores for symbol in keyings[core.pk]]
    )
    for core in cores:
        core.system, core.version = system, core.version + 1
    Core.objects.bulk_update(cores, ["system", "version"])
    record(
        actor=actor,
        verb="core.rekeyed_many",
        sentence=f"keyed {len(cores)} core{'' if len(cores) == 1 else 's'} of {system.code} to other keys",
        site_id=site.pk,
        subjects=[system, *cores],
        detail={"cores": len(cores)},
    )
    return cores


def _refuse_rekeying(core: Core, system: KeySystem) -> None:
    refuse_disputed(core)
    if core.place in {Core.Place.HOUSING, Core.Place.GONE}:
        raise Refused(
            _("Core {core} is {whereabouts}; only a core in hand is keyed anew.").format(
                core=core, whereabouts=core.whereabouts
            )
        )
    if core.format_id != system.format_id:
        raise Refused(
            _("Core {core} is of another format than the keys of {code}.").format(core=core, code=system.code)
        )
