from collections.abc import Sequence

from django.db import transaction
from django.utils.translation import gettext as _

from keyctl.accounts.models import User
from keyctl.audit.services import record
from keyctl.cores.disputes import refuse_disputed
from keyctl.cores.models import Core, Turn
from keyctl.cores.services.locking import locked_cores
from keyctl.cores.waiting import IN_HAND
from keyctl.lib.errors import Refused
from keyctl.places.access import require_role
from keyctl.places.models import Site
from keyctl.places.roles import Role


@transaction.atomic
def empty_cores(*, actor: User, site: Site, cores: Sequence[Core]) -> list[Core]:
    """The pins are out of these cores: no key turns them until they are pinned again."""
    require_role(actor, site, Role.LOCKSMITH)
    found = [core for core in locked_cores([core.pk for core in cores]).values() if core.is_pinned]
    if not found:
        raise Refused(_("None of these cores holds pins any more. Look again."))
    for core in found:
        _refuse_out_of_hand(actor, core, site)
        core.pinning, core.pinned_at, core.pinned_by = None, None, None
        core.version += 1
    Core.objects.bulk_update(found, ["pinning", "pinned_at", "pinned_by", "version"], batch_size=200)
    Turn.objects.filter(core__in=found).delete()
    record(
        actor=actor,
        verb="core.emptied_many",
        sentence=f"took the pins out of {len(found)} core{'' if len(found) == 1 else 's'}",
        site_id=site.pk,
        subjects=found,
        detail={"cores": len(found)},
    )
    return found


def _refuse_out_of_hand(actor: User, core: Core, site: Site) -> None:
    refuse_disputed(core)
    if core.site_id != site.pk:
        raise Refused(_("Core {core} belongs to another site; empty it there.").format(core=core))
    if core.place not in IN_HAND or core.carrier_id not in {None, actor.pk}:
        raise Refused(
            _("Core {core} is {whereabouts}; bring it to the bench first.").format(
                core=core, whereabouts=core.whereabouts
            )
        )
