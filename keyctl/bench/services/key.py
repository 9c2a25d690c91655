"""Reading a key by calipers, and finding which key of a system it is."""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from itertools import islice, product

from django.db import transaction

from keyctl import engine
from keyctl.accounts.models import User
from keyctl.audit.services import record
from keyctl.places.access import require_role
from keyctl.places.models import Site
from keyctl.places.roles import Role
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
) -> KeyFound:
    """The key's cuts. History knows of the reading, and of the key it turned out to be, before it is told."""
    require_role(actor, site, Role.LOCKSMITH)
    reading = engine.read_measured_key(format.id, root_depths_in, tolerance_in)
    symbols = _named(system, [reading.bitting.text] if reading.bitting else [])
    perhaps = [symbol for symbol in _named(system, _possible(format, reading)) if symbol not in symbols]
    _record(actor, site, format, system, [*symbols, *perhaps])
    return KeyFound(format, reading, tuple(symbols), tuple(perhaps))


def _named(system: KeySystem | None, bittings: Iterable[str]) -> list[KeySymbol]:
    """The system's keys with one of these bittings, by their fingerprints: nothing is unsealed."""
    if system is None:
        return []
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
def _record(
    actor: User, site: Site, format: engine.CoreFormat, system: KeySystem | None, found: Sequence[KeySymbol]
) -> None:
    record(
        actor=actor,
        verb="bench.key_read",
        sentence=f"read a key by calipers{_outcome(format, system, found)}",
        site_id=site.pk,
        subjects=[*([system] if system else []), *found],
        detail={"format": format.id},
    )


def _outcome(format: engine.CoreFormat, system: KeySystem | None, found: Sequence[KeySymbol]) -> str:
    if system is None:
        return f" ({format.name})"
    if not found:
        return f": no key of {system.code} that is known"
    return f": {' or '.join(str(symbol) for symbol in found[:5])} of {system.code}"
