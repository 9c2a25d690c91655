"""Opening what is sealed of a key system. Who shows it to a person records that first."""

import json

from django.utils.translation import gettext as _

from keyctl import engine
from keyctl.lib.errors import Refused
from keyctl.systems.models import KeySymbol, KeySystem
from keyctl.vault import services as vault


def bitting_of(symbol: KeySymbol) -> str:
    """The bitting of a key; who shows it to a person records that first."""
    return vault.unseal(symbol, "bitting")


def is_designed(system: KeySystem) -> bool:
    """Whether its keys follow from a progression; not so where they were brought in or charted."""
    return system.design is not None


def design_of(system: KeySystem) -> engine.Design:
    """The parameters a system was drawn with."""
    if not is_designed(system):
        raise Refused(
            _("The keys of {code} follow no progression; it has no array to look up.").format(
                code=system.code
            )
        )
    return engine.Design.of(system.format_id, json.loads(vault.unseal(system, "design")))
