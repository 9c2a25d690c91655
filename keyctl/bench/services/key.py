"""Reading a key by calipers, and finding which key of a system it is."""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from itertools import islice, product

from django.db import transaction
from django.urls import reverse

from keyctl import engine
from keyctl.accounts.fresh import FreshSignIn, SignInAgain
from keyctl.accounts.models import User
from keyctl.audit.services import record
from keyctl.places.access import require_role
from keyctl.places.models import Site
from keyctl.places.roles import Role
from keyctl.reveals.services import reveal_one
from keyctl.reveals.things import Secret
from keyctl.systems.models import KeySymbol, KeySystem
from keyctl.vault import services as vault

# With several doubtful cuts the key may be one of many; no more than these are looked up.
MOST_READINGS = 500


@dataclass(frozen=True)
class KeyFound:
    """The cuts, the keys of the system that have them, and those that doubtful cuts would make it."""

    format: engine.CoreFormat
    reading: engine.KeyReading
    symbols: tuple[KeySymbol, ...] = ()
    perhaps: tuple[KeySymbol, ...] = ()


def read_key_by_calipers(
    *,
    actor: User,
    site: Site,
    format: engine.CoreFormat,
    system: KeySystem | None,
    root_depths_in: Sequence[float],
    tolerance_in: float,
    sign_in: FreshSignIn | None = None,
) -> KeyFound:
    """The key's cuts. History knows of the reading, and of the key it turned out to be, before it is told.

    Where a system is named it counts like a look: who asks often enough finds out how its keys are cut.
    """
    require_role(actor, site, Role.LOCKSMITH)
    reading = engine.read_measured_key(format.id, root_depths_in, tolerance_in)
    if system is None:
        _record(actor, site, format)
        return KeyFound(format, reading)
    if sign_in is None:
        raise SignInAgain
    found = _found(format, system, reading)
    return reveal_one(actor=actor, sign_in=sign_in, wanted=lambda: _question(site, system, found))


def _found(format: engine.CoreFormat, system: KeySystem, reading: engine.KeyReading) -> KeyFound:
    symbols = _named(system, [reading.bitting.text] if reading.bitting else [])
    perhaps = [symbol for symbol in _named(system, _possible(format, reading)) if symbol not in symbols]
    return KeyFound(format, reading, tuple(symbols), tuple(perhaps))


def _question(site: Site, system: KeySystem, found: KeyFound) -> Secret[KeyFound]:
    keys = (*found.symbols, *found.perhaps)
    return Secret(
        kind="read-key",
        thing=system,
        words=f"which key of {system.code} a measured key is",
        sites=(site,),
        open=lambda: found,
        verb="bench.key_read",
        url=reverse("bench:read-key"),
        is_question=True,
        sentence=f"read a key by calipers{_outcome(system, keys)}",
        about=keys,
    )


def _named(system: KeySystem, bittings: Iterable[str]) -> list[KeySymbol]:
    """The system's keys with one of these bittings, by their fingerprints: nothing is unsealed."""
    prints = [vault.fingerprint(str(system.pk), text) for text in bittings]
    return list(KeySymbol.objects.filter(system=system, fingerprint__in=prints).order_by("level", "symbol"))


def _possible(format: engine.CoreFormat, reading: engine.KeyReading) -> Iterator[str]:
    """Every bitting that the doubts leave open."""
    columns: list[list[str]] = [[] for _ in range(format.positions)]
    for column, sign in zip(columns, reading.bitting.text if reading.bitting else "", strict=False):
        column.append(sign)
    for doubt in reading.doubts:
        signs = [sign for sign in doubt.alternatives if isinstance(sign, str)]
        columns[doubt.position - 1] += [sign for sign in signs if sign not in columns[doubt.position - 1]]
    return islice(map("".join, product(*columns)), MOST_READINGS)


@transaction.atomic
def _record(actor: User, site: Site, format: engine.CoreFormat) -> None:
    record(
        actor=actor,
        verb="bench.key_read",
        sentence=f"read a key by calipers ({format.name})",
        site_id=site.pk,
        detail={"format": format.id},
    )


def _outcome(system: KeySystem, found: Sequence[KeySymbol]) -> str:
    if not found:
        return f": no key of {system.code} that is known"
    return f": {' or '.join(str(symbol) for symbol in found[:5])} of {system.code}"
