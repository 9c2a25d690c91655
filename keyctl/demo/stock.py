"""Pin kits and control blanks of the invented estate."""

from random import Random

from keyctl import engine
from keyctl.accounts.models import User
from keyctl.places.models import Site
from keyctl.recovery.services import receive_blanks, register_blanks
from keyctl.stock.services import stock_kit
from keyctl.systems.models import KeySystem

PINS_IN_A_BIN = 40
LOW_AT = 10
CONTROL_BLANKS = 6


def build_stock(locksmith: User, rng: Random) -> None:
    """At each site a kit for every format in use, and blanks where the tip makes a control key."""
    for site in Site.objects.order_by("code"):
        systems = KeySystem.objects.filter(sites=site).order_by("code")
        for format_id in sorted({system.format_id for system in systems}):
            chosen = engine.load_format(format_id)
            stock_kit(actor=locksmith, site=site, format=chosen, each=PINS_IN_A_BIN, low_at=LOW_AT)
        for system in systems:
            _stock_blanks(locksmith, site, system, rng)


def _stock_blanks(locksmith: User, site: Site, system: KeySystem, rng: Random) -> None:
    control = engine.load_format(system.format_id).control
    if control is None or control.kind != "tip":
        return
    blank = register_blanks(actor=locksmith, site=site, keyway=system.keyway)
    receive_blanks(
        actor=locksmith, blank=blank, version=blank.version, number=rng.randrange(2, CONTROL_BLANKS + 1)
    )
