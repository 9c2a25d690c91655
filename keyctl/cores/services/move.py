from django.db import transaction
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from keyctl.accounts.models import User
from keyctl.audit.services import record
from keyctl.cores.leaving import refuse_to_leave
from keyctl.cores.models import Core
from keyctl.cores.services.locking import lock_core
from keyctl.cores.services.placing import put_core
from keyctl.cores.services.register import KEEPERS
from keyctl.lib.errors import Refused
from keyctl.lib.language import in_english
from keyctl.places.access import require_role
from keyctl.places.roles import Role

WHERE_TO = {
    Core.Place.SHELF.value: gettext_lazy("on the shelf"),
    Core.Place.BENCH.value: gettext_lazy("on the bench"),
    Core.Place.CASE.value: gettext_lazy("into their own case"),
    Core.Place.GONE.value: gettext_lazy("down as gone"),
}


@transaction.atomic
def move_core(*, actor: User, core: Core, version: int, place: str) -> Core:
    """Put a core that is in nobody's door on the shelf, the bench, into one's own case, or write it off."""
    core = lock_core(actor, core.pk, version, KEEPERS)
    refuse_move(core, place)
    if place == Core.Place.CASE:
        # A program has no case: whoever carries a core answers for it.
        require_role(actor, core.site, Role.LOCKSMITH)
    if place != core.place:
        refuse_to_leave(core, place)
    put_core(core, place, carrier=actor)
    record(
        actor=actor,
        verb="core.moved",
        sentence=f"put core {core} {in_english(WHERE_TO[place])}",
        site_id=core.site_id,
        subjects=[core],
        detail={"place": place},
    )
    return core


def refuse_move(core: Core, place: str) -> None:
    if core.place == Core.Place.HOUSING:
        raise Refused(
            _("Core {core} is {whereabouts}; take it out with a swap order.").format(
                core=core, whereabouts=core.whereabouts
            )
        )
    if core.place == Core.Place.GONE:
        raise Refused(
            _("Core {core} is gone and does not come back; register the core you hold as a new one.").format(
                core=core
            )
        )
    if place == Core.Place.HOUSING:
        raise Refused(_("A core goes into a housing by a swap order, with its checks."))
    if place not in Core.Place.values:
        raise Refused(_("There is no place called {place}; choose one of the list.").format(place=place))
