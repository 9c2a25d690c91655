"""Trying a key in a core on paper: what it does, and which positions bind."""

from dataclasses import dataclass
from typing import Any

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
    (True, True): "It turns the plug and takes the core out",
    (True, False): "It turns the plug",
    (False, True): "It takes the core out and does not turn the plug",
    (False, False): "It does neither: it binds",
}


@dataclass(frozen=True)
class TriedPosition:
    """One position: the key's cut, and whether a break lies at each line. None: no control line there."""

    position: int
    cut: str
    at_operating: bool
    at_control: bool | None


@dataclass(frozen=True)
class Trial:
    core: Core
    symbol: KeySymbol
    blank: str
    pinned: engine.Pinning
    bitting: engine.Bitting
    turning: engine.Turning
    positions: tuple[TriedPosition, ...]

    @property
    def verdict(self) -> str:
        return VERDICTS[self.turning.operates, self.turning.withdraws]


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
    return Trial(core, symbol, blank, pinned, bitting, turning, _positions(pinned, bitting))


def _refuse(core: Core, symbol: KeySymbol) -> None:
    if not core.is_pinned:
        raise Refused(f"Core {core} is not pinned yet; there is nothing to try a key on.")
    if core.system is None:
        raise Refused(f"Core {core} is keyed to no system, so its keyway is not known.")
    if not KeyFamily.of(core.system).lets_in(symbol.system):
        raise Refused(f"Key {symbol} of {symbol.system.code} does not enter the keyway of core {core}.")


def _positions(pinned: engine.Pinning, bitting: engine.Bitting) -> tuple[TriedPosition, ...]:
    operating, withdrawing = engine.operating_cuts(pinned), engine.withdrawing_cuts(pinned)
    has_sleeve = bool(pinned.format.sleeve)
    return tuple(
        TriedPosition(
            stack.position,
            sign,
            at_operating=cut in operating[place],
            at_control=cut in withdrawing[place] if has_sleeve else None,
        )
        for place, (stack, sign, cut) in enumerate(
            zip(pinned.stacks, bitting.text, bitting.cuts, strict=True)
        )
    )
