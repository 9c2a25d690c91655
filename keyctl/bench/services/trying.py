"""Trying a key in a core on paper: what it does, and which positions bind."""

from dataclasses import dataclass
from typing import Any

from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from keyctl import engine
from keyctl.accounts.fresh import FreshSignIn
from keyctl.accounts.models import User
from keyctl.audit.services import record
from keyctl.cores.models import Core
from keyctl.cores.services import pins_to_show
from keyctl.cores.turning import KeyFamily
from keyctl.keys.reveal import cuts_to_show
from keyctl.lib.errors import Refused
from keyctl.places.access import require_role
from keyctl.places.roles import Role
from keyctl.reveals.services import reveal
from keyctl.reveals.things import Secret
from keyctl.systems.models import KeySymbol

VERDICTS = {
    (True, True): gettext_lazy("It turns the plug and takes the core out"),
    (True, False): gettext_lazy("It turns the plug"),
    (False, True): gettext_lazy("It takes the core out and does not turn the plug"),
    (False, False): gettext_lazy("It does neither: it binds"),
}


@dataclass(frozen=True)
class Trial:
    core: Core
    symbol: KeySymbol
    blank: str
    pinned: engine.Pinning
    bitting: engine.Bitting
    turning: engine.Turning

    @property
    def verdict(self) -> str:
        return str(VERDICTS[self.turning.operates, self.turning.withdraws])


def try_key_in_core(
    *, actor: User, core: Core, symbol: KeySymbol, sign_in: FreshSignIn, blank: str = "operating"
) -> Trial:
    """What the key does to the pins in the core: both are shown, so each wants its ground.

    History knows of it before the vault opens.
    """
    require_role(actor, core.site, Role.LOCKSMITH)
    _refuse(core, symbol)

    def wanted() -> list[Secret[Any]]:
        record(
            actor=actor,
            verb="core.key_tried",
            sentence=f"tried key {symbol} of {symbol.system.code} on the pins of core {core}",
            site_id=core.site_id,
            subjects=[core, symbol],
            detail={"blank": blank},
        )
        return [pins_to_show(core), cuts_to_show(symbol)]

    pinned, cuts = reveal(actor=actor, sign_in=sign_in, wanted=wanted)
    bitting = engine.read_key(core.format_id, cuts)
    turning = engine.try_key(pinned, bitting, blank=blank)
    return Trial(core, symbol, blank, pinned, bitting, turning)


def _refuse(core: Core, symbol: KeySymbol) -> None:
    if not core.is_pinned:
        raise Refused(_("Core {core} is not pinned yet; there is nothing to try a key on.").format(core=core))
    if core.system is None:
        raise Refused(_("Core {core} is keyed to no system, so its keyway is not known.").format(core=core))
    if not KeyFamily.of(core.system).lets_in(symbol.system):
        raise Refused(
            _("Key {symbol} of {code} does not enter the keyway of core {core}.").format(
                symbol=symbol, code=symbol.system.code, core=core
            )
        )
