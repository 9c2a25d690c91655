from django.db import transaction

from keyctl import engine
from keyctl.accounts.models import User
from keyctl.audit.services import record
from keyctl.cores.models import Core
from keyctl.cores.turning import pins_of
from keyctl.lib.errors import Refused
from keyctl.places.access import require_role
from keyctl.places.roles import Role


def reveal_pinning(*, actor: User, core: Core, reason: str) -> engine.Pinning:
    """The pins of one core. History knows of it before the vault opens, and keeps it if the opening fails."""
    require_role(actor, core.site, Role.LOCKSMITH)
    if not core.is_pinned:
        raise Refused(f"Core {core} is not pinned yet; there is nothing to show.")
    if not reason.strip():
        raise Refused("Say why you need to see the pinning.")
    with transaction.atomic():
        record(
            actor=actor,
            verb="core.pinning_shown",
            sentence=f"looked at the pinning of core {core}: {reason}",
            site_id=core.site_id,
            subjects=[core],
        )
    return pins_of(core)
