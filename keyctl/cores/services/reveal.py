from uuid import UUID

from django.urls import reverse
from django.utils.translation import gettext as _

from keyctl import engine
from keyctl.accounts.fresh import FreshSignIn
from keyctl.accounts.models import User
from keyctl.cores.access import workable_core
from keyctl.cores.models import Core
from keyctl.cores.turning import pins_of
from keyctl.lib.errors import Refused
from keyctl.reveals.services import reveal_one
from keyctl.reveals.things import Secret
from keyctl.systems.models import KeySymbol

KIND = "core"


def reveal_pinning(*, actor: User, core: Core, sign_in: FreshSignIn) -> engine.Pinning:
    """The pins of one core. History knows of it before the vault opens, and keeps it if the opening fails."""
    return reveal_one(actor=actor, sign_in=sign_in, wanted=lambda: pins_to_show(core))


def pins_to_show(core: Core) -> Secret[engine.Pinning]:
    if not core.is_pinned:
        raise Refused(_("Core {core} is not pinned yet; there is nothing to show.").format(core=core))
    return Secret(
        kind=KIND,
        thing=core,
        words=f"the pinning of core {core}",
        sites=(core.site,),
        open=lambda: pins_of(core),
        verb="core.pinning_shown",
        url=reverse("cores:detail", args=[core.pk]),
        is_high=is_a_masters_own(core),
    )


def is_a_masters_own(core: Core) -> bool:
    """Whether no change key is planned for it: its pins are then a master's cuts, position by position."""
    kinds = set(core.keyed_to.values_list("kind", flat=True))
    return bool(kinds) and KeySymbol.Kind.CHANGE not in kinds


def find_pins(actor: User, pk: UUID) -> Secret[engine.Pinning]:
    return pins_to_show(workable_core(actor, pk))
