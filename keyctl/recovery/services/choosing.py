"""The core in hand, and the working key that is copied onto a control blank."""

from django.db import transaction
from django.utils.translation import gettext as _

from keyctl import engine
from keyctl.accounts.models import User
from keyctl.cores.models import Core
from keyctl.cores.turning import pins_of
from keyctl.lib.errors import Refused
from keyctl.lib.holding import save_next
from keyctl.recovery.access import WORKERS
from keyctl.recovery.models import ControlKeyCase
from keyctl.recovery.selectors import keys_of_core
from keyctl.recovery.services.locking import Way, end_approval, locked_case, tell
from keyctl.systems.models import KeySymbol
from keyctl.systems.services import bitting_of


@transaction.atomic
def choose_core(*, actor: User, case: ControlKeyCase, version: int, core: Core) -> ControlKeyCase:
    case = locked_case(actor, case, version, *WORKERS)
    if case.way == Way.DECODE:
        raise Refused(_("Two cores are read in this case. Enter the pins of a core instead."))
    refuse_core(case, core)
    case.core, case.symbol = core, None
    end_approval(case)
    save_next(case, "core", "symbol")
    tell(actor, case, "core_chosen", f"took core {core} for the lost control key", [core])
    return case


@transaction.atomic
def choose_key(*, actor: User, case: ControlKeyCase, version: int, symbol: KeySymbol) -> ControlKeyCase:
    """Any key that turns the core will do; on a control blank it takes out every core that it turns."""
    case = locked_case(actor, case, version, *WORKERS, way=Way.COPY)
    refuse_key(case, symbol)
    case.symbol = symbol
    end_approval(case)
    save_next(case, "symbol")
    tell(
        actor,
        case,
        "key_chosen",
        f"chose {symbol} ({symbol.system.code}) to be copied onto a control blank for core {case.core}",
        [symbol],
    )
    return case


def refuse_core(case: ControlKeyCase, core: Core) -> None:
    if core.site_id != case.site_id or core.system_id != case.system_id:
        raise Refused(
            _(
                "Core {core} is not one of {system} at {site}. Take a core of the system whose control key "
                "is lost."
            ).format(core=core, system=case.system, site=case.site)
        )
    if core.place == Core.Place.GONE:
        raise Refused(
            _("Core {core} is gone by the records. Register the core that you hold, or take another.").format(
                core=core
            )
        )


def refuse_key(case: ControlKeyCase, symbol: KeySymbol) -> None:
    """Tried on the pins as they are recorded, with the tip of a control blank."""
    core = case.core
    if core is None:
        raise Refused(_("No core is chosen yet. Say first which core the key shall take out."))
    if not core.is_pinned:
        raise Refused(
            _("Core {core} is not pinned by the records, so no key can be tried. Take another core.").format(
                core=core
            )
        )
    known = keys_of_core(core).filter(pk=symbol.pk).exists()
    if not known or not _withdraws(core, symbol):
        raise Refused(
            _("{symbol} does not turn core {core}, so its copy does not take it out. Choose another.").format(
                symbol=symbol, core=core
            )
        )


def _withdraws(core: Core, symbol: KeySymbol) -> bool:
    key = engine.read_key(core.format_id, bitting_of(symbol))
    return engine.try_key(pins_of(core), key, blank="control").withdraws
