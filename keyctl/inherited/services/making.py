"""Making a key system of a candidate: its masters and control key sealed, keys in circulation added."""

from collections.abc import Iterator

from django.db import transaction

from keyctl import engine
from keyctl.accounts.models import User
from keyctl.audit.services import record
from keyctl.inherited.access import BRINGERS
from keyctl.inherited.naming import NamedKey, named_keys
from keyctl.inherited.services.reconstructing import Asked, worked_out
from keyctl.inherited.typed import typed_cores, typed_keys
from keyctl.lib.errors import Conflict, Refused
from keyctl.places.access import require_role
from keyctl.systems.models import KeySymbol, KeySystem
from keyctl.systems.services import NewKey, add_symbols, open_system


@transaction.atomic
def make_system(
    *, actor: User, asked: Asked, candidate: int, share: str, code: str, name: str, keyway: str
) -> KeySystem:
    """Work the reconstruction out again from what was given, and open a system with that candidate on top.

    ``share`` is the chance that the page showed for it: where it is another now, the cores were changed.
    """
    require_role(actor, asked.site, *BRINGERS)
    format = engine.load_format(asked.format_id)
    keys = typed_keys(format, asked.keys)
    again = worked_out(asked, typed_cores(format, asked.typed), keys)
    if not 0 <= candidate < len(again.found.candidates):
        raise Refused("There is no such candidate. Reconstruct the system again.")
    chosen = again.found.candidates[candidate]
    if f"{chosen.share:.6f}" != share:
        raise Conflict("The cores or their pins have changed since. Reconstruct the system again.")
    levels, named = named_keys(again, candidate, keys)
    control = again.found.control.bitting if again.found.control else None
    system = open_system(
        actor=actor,
        sites=[asked.site],
        code=code,
        name=name,
        format_id=asked.format_id,
        keyway=keyway,
        levels=levels,
        control=control.text if control else None,
    )
    add_symbols(actor=actor, system=system, entries=list(_entries(named)), origin=KeySymbol.Origin.BROUGHT_IN)
    record(
        actor=actor,
        verb="inherited.system_made",
        sentence=f"made the key system {code} of candidate {candidate + 1} of a reconstruction",
        site_id=asked.site.pk,
        subjects=[system, *asked.cores],
        detail={"cores": len(again.found.cores), "keys": len(named), "share": round(chosen.share, 4)},
    )
    return system


def _entries(named: list[NamedKey]) -> Iterator[NewKey]:
    for key in named:
        kind = KeySymbol.Kind.MASTER if key.is_master else KeySymbol.Kind.CHANGE
        yield NewKey(key.symbol, kind, key.bitting, key.parent, key.level, key.ordinal)
