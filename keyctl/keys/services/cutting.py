"""New copies come from the machine."""

from django.db import transaction
from django.utils.translation import gettext as _

from keyctl.accounts.models import User
from keyctl.audit.services import record
from keyctl.keys.access import REGISTRARS
from keyctl.keys.models import Cabinet, KeyCopy
from keyctl.keys.programs import refuse_program_masters
from keyctl.keys.services.ledger import MOST_AT_ONCE, State, refuse_cabinet_elsewhere
from keyctl.keys.services.stamping import stamps_for
from keyctl.lib.errors import Refused
from keyctl.places.access import require_role
from keyctl.places.models import Site
from keyctl.systems.models import KeySymbol


@transaction.atomic
def cut_copies(
    *, actor: User, symbol: KeySymbol, site: Site, cabinet: Cabinet, count: int, stamp: str = ""
) -> list[KeyCopy]:
    """Copies come from the machine into a cabinet; nobody holds a key that was never in stock.

    Each is stamped with its serial; ``stamp`` is another text, where the site's desk allows one.
    """
    require_role(actor, site, *REGISTRARS)
    refuse_program_masters(actor, site, [symbol], "registers copies of")
    if not 1 <= count <= MOST_AT_ONCE:
        raise Refused(
            _("Cut between 1 and {most_at_once} copies at a time.").format(most_at_once=MOST_AT_ONCE)
        )
    if symbol.is_retired:
        raise Refused(
            _("{symbol} is retired after a loss and is not cut again. Cut the key in its place.").format(
                symbol=symbol
            )
        )
    if not symbol.system.sites.filter(pk=site.pk).exists():
        raise Refused(
            _("{system} is not used at {site}. Choose a key of a system that is.").format(
                system=symbol.system, site=site
            )
        )
    refuse_cabinet_elsewhere(cabinet, site)
    facts = {"symbol": symbol, "site": site, "state": State.IN_CABINET, "cabinet": cabinet}
    copies = KeyCopy.objects.bulk_create(
        [KeyCopy(**facts, stamp=text) for text in stamps_for(site, symbol, stamp, count)]
    )
    record(
        actor=actor,
        verb="key.cut",
        sentence=f"cut {_copies(count)} of {symbol} ({symbol.system.code}) into {cabinet}",
        site_id=site.pk,
        subjects=[symbol, *copies, cabinet],
        detail={"count": count},
    )
    return copies


def _copies(count: int) -> str:
    return "1 copy" if count == 1 else f"{count} copies"
