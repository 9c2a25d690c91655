"""What a program may do with keys, where a person may do more: nobody stands beside it who asks back."""

from collections.abc import Iterable

from django.utils.translation import gettext as _

from keyctl.accounts.models import User
from keyctl.lib.errors import Refused
from keyctl.places.access import is_program
from keyctl.places.models import Site
from keyctl.systems.models import KeySymbol


class NoProgram(Refused):
    """Not an act for a program, whatever the state of things; it names keys and no person."""


def refuse_program_masters(actor: User, site: Site, symbols: Iterable[KeySymbol], what: str) -> None:
    """Masters and control keys are a person's to register and to hand out; ``what`` says which of the two."""
    high = sorted({symbol.symbol for symbol in symbols if symbol.kind != KeySymbol.Kind.CHANGE})
    if high and is_program(actor, site):
        raise NoProgram(
            _(
                "No program {what} {high}: masters and control keys pass through people's hands. Somebody at "
                "the key desk of {site} does it."
            ).format(what=what, high=", ".join(high[:3]), site=site)
        )
