"""Storing keys of a system in bulk: checked against each other and against what is there, then sealed."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from typing import TypeVar

from django.db.models import Q
from django.utils.translation import gettext

from keyctl import engine
from keyctl.lib.errors import Refused
from keyctl.systems import newcomers
from keyctl.systems.models import KeySymbol, KeySystem
from keyctl.vault import services as vault

T = TypeVar("T")

Kind = KeySymbol.Kind
BATCH = 2000
# As many as one statement may name on every database.
ASKED_AT_ONCE = 500
MOST_NAMED = 10


@dataclass(frozen=True, slots=True)
class NewKey:
    """A key to store. ``parent`` is a symbol of the system or its text, also of a key stored with it."""

    symbol: str
    kind: KeySymbol.Kind
    bitting: str = field(repr=False)
    parent: KeySymbol | str | None = None
    level: int | None = None
    ordinal: int = 0
    room: int | None = None


def store_keys(system: KeySystem, entries: Sequence[NewKey], origin: KeySymbol.Origin) -> list[KeySymbol]:
    """Save the keys, masters before what stands below them; the caller holds the system's row locked."""
    _refuse_unreadable(system, entries)
    made = _made(system, entries, origin)
    _refuse_twice(made)
    _refuse_known(system, made)
    KeySymbol.objects.bulk_create(made, batch_size=BATCH)
    newcomers.tell(made)
    return made


def _refuse_unreadable(system: KeySystem, entries: Sequence[NewKey]) -> None:
    """The reasons would show cuts, so only the symbols are named."""
    wrong = [entry.symbol for entry in entries if not engine.is_key(system.format_id, entry.bitting)]
    if wrong:
        raise Refused(
            gettext("{named}: no key of this format has such cuts; read them again.").format(
                named=_named(wrong)
            )
        )


def _made(system: KeySystem, entries: Sequence[NewKey], origin: KeySymbol.Origin) -> list[KeySymbol]:
    """In the order of their levels, so that every parent is there before its children."""
    stored = _parents(system, entries)
    made: list[KeySymbol] = []
    for entry in sorted(entries, key=lambda entry: entry.level or 0):
        symbol = _sealed(system, entry, _parent(entry, stored), origin)
        stored[entry.symbol] = symbol
        made.append(symbol)
    return made


def _parents(system: KeySystem, entries: Sequence[NewKey]) -> dict[str, KeySymbol]:
    """The symbols already stored that entries name by text."""
    names = {entry.parent for entry in entries if isinstance(entry.parent, str)}
    found = [symbol for part in _parts(sorted(names)) for symbol in system.symbols.filter(symbol__in=part)]
    return {symbol.symbol: symbol for symbol in found}


def _parent(entry: NewKey, stored: dict[str, KeySymbol]) -> KeySymbol | None:
    parent = stored.get(entry.parent) if isinstance(entry.parent, str) else entry.parent
    if parent is None and entry.parent is not None:
        raise Refused(
            gettext("{symbol} stands under {parent}, which is no key of the system.").format(
                symbol=entry.symbol, parent=entry.parent
            )
        )
    level = None if entry.kind == Kind.CONTROL else 0 if parent is None else (parent.level or 0) + 1
    if entry.level != level:
        raise Refused(
            gettext("{symbol} stands on level {level}, one below its master, not on {level_2}.").format(
                symbol=entry.symbol, level=level, level_2=entry.level
            )
        )
    return parent


def _sealed(
    system: KeySystem, entry: NewKey, parent: KeySymbol | None, origin: KeySymbol.Origin
) -> KeySymbol:
    symbol = KeySymbol(
        system=system,
        kind=entry.kind,
        symbol=entry.symbol,
        parent=parent,
        level=entry.level,
        ordinal=entry.ordinal,
        origin=origin,
        room=entry.room,
        bitting=b"",
    )
    symbol.bitting = vault.seal(symbol, "bitting", entry.bitting)
    symbol.fingerprint = vault.fingerprint(str(system.pk), entry.bitting)
    return symbol


def _refuse_twice(made: Sequence[KeySymbol]) -> None:
    seen: dict[object, KeySymbol] = {}
    reasons = []
    for symbol in made:
        for mark, fault in _marks(symbol):
            if (other := seen.setdefault(mark, symbol)) is not symbol:
                reasons.append(
                    gettext("{symbol} and {other} {fault}.").format(symbol=symbol, other=other, fault=fault)
                )
    _stop(gettext("Some of these keys are given twice."), reasons)


def _marks(symbol: KeySymbol) -> Iterator[tuple[object, str]]:
    """What no two keys of a system share, and the words for it."""
    yield ("symbol", symbol.symbol), gettext("have the same symbol")
    yield ("bitting", symbol.kind, symbol.fingerprint), gettext("are the same key")
    if symbol.parent_id is not None:
        yield (
            ("place", symbol.parent_id, symbol.kind, symbol.ordinal),
            gettext("have the same number under their master"),
        )


def _refuse_known(system: KeySystem, made: Sequence[KeySymbol]) -> None:
    new = {mark: symbol.symbol for symbol in made for mark, _ in _marks(symbol)}
    reasons = [
        gettext("{new} and {symbol}, which is there already, {fault}.").format(
            new=new[mark], symbol=known.symbol, fault=fault
        )
        for known in _possibly_known(system, made)
        for mark, fault in _marks(known)
        if mark in new
    ]
    _stop(gettext("{code} has some of these keys already.").format(code=system.code), reasons)


def _possibly_known(system: KeySystem, made: Sequence[KeySymbol]) -> Iterator[KeySymbol]:
    """Stored keys with a symbol, a bitting or a place of the new ones, each once."""
    found: dict[object, KeySymbol] = {}
    fresh = {symbol.pk for symbol in made}
    for part in _parts(made):
        alike = (
            Q(symbol__in=[symbol.symbol for symbol in part])
            | Q(fingerprint__in=[symbol.fingerprint for symbol in part])
            | Q(
                parent__in={symbol.parent_id for symbol in part} - fresh - {None},
                ordinal__in={symbol.ordinal for symbol in part},
            )
        )
        for known in system.symbols.filter(alike).defer("bitting"):
            found[known.pk] = known
    yield from found.values()


def _parts(things: Sequence[T]) -> Iterator[Sequence[T]]:
    for start in range(0, len(things), ASKED_AT_ONCE):
        yield things[start : start + ASKED_AT_ONCE]


def _stop(message: str, reasons: list[str]) -> None:
    if reasons:
        more = (
            [gettext("And {number} more.").format(number=len(reasons) - MOST_NAMED)]
            if len(reasons) > MOST_NAMED
            else []
        )
        raise Refused(message, reasons=reasons[:MOST_NAMED] + more)


def _named(names: Sequence[str]) -> str:
    shown = ", ".join(names[:MOST_NAMED])
    return shown if len(names) <= MOST_NAMED else f"{shown} and {len(names) - MOST_NAMED} more"
