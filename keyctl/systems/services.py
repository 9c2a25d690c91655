"""Designing a key system and reading its sealed bittings."""

import json
from collections.abc import Sequence
from itertools import product
from random import Random, SystemRandom

from django.db import transaction

from keyctl import engine
from keyctl.accounts.models import User
from keyctl.audit.services import record
from keyctl.lib.errors import Refused
from keyctl.places.models import Site
from keyctl.systems.models import KeySymbol, KeySystem
from keyctl.vault import services as vault

MOST_LEVELS = 4


@transaction.atomic
def design_system(
    *,
    actor: User,
    sites: Sequence[Site],
    code: str,
    name: str,
    format_id: str,
    keyway: str,
    groups: Sequence[Sequence[int]],
    children: Sequence[int],
    rng: Random | None = None,
) -> KeySystem:
    """Draw a system by total position progression and store every key of its tree.

    ``groups`` are the positions each level below the top fixes, ``children`` how many keys stand below
    each key of the level above. ``rng`` is for tests and the invented estate; a real system is drawn from
    the operating system's source of chance.
    """
    _refuse_shape(sites, groups, children)
    design = engine.Design.draw(format_id, groups, rng or SystemRandom())
    _refuse_crowding(design, children)
    system = KeySystem(
        code=code, name=name, format_id=format_id, keyway=keyway, levels=len(groups) + 1, created_by=actor
    )
    system.design = vault.seal(system, "design", json.dumps(design.parameters))
    system.save()
    system.sites.set(sites)
    count = _store_symbols(system, design, children)
    record(
        actor=actor,
        verb="system.designed",
        sentence=f"designed the key system {code} with {count} keys on {system.levels} levels",
        site_id=sites[0].pk,
        subjects=[system],
    )
    return system


def bitting_of(symbol: KeySymbol) -> str:
    """The bitting of a key; who shows it to a person records that first."""
    return vault.unseal(symbol, "bitting")


def design_of(system: KeySystem) -> engine.Design:
    """The parameters a system was drawn with."""
    return engine.Design.of(system.format_id, json.loads(vault.unseal(system, "design")))


def _refuse_shape(sites: Sequence[Site], groups: Sequence[Sequence[int]], children: Sequence[int]) -> None:
    if not sites:
        raise Refused("A key system belongs to a site; choose one at least.")
    if len(groups) != len(children) or not 1 <= len(groups) < MOST_LEVELS:
        raise Refused(
            f"Give positions and a number of keys for one to {MOST_LEVELS - 1} levels below the top."
        )
    if any(count < 1 for count in children):
        raise Refused("Every level needs at least one key below each key above it.")


def _refuse_crowding(design: engine.Design, children: Sequence[int]) -> None:
    """With an adjacent-cut limit some parents have room for fewer keys than others: each is asked."""
    for level, count in enumerate(children, 1):
        for path in product(*(range(above) for above in children[: level - 1])):
            if count > (room := design.room(path)):
                raise Refused(
                    f"Level {level} has room for {room} keys below one key above it, not for {count}: "
                    "ask for fewer, or give the level more positions."
                )


def _store_symbols(system: KeySystem, design: engine.Design, children: Sequence[int]) -> int:
    """Level by level, so that every parent stands in the database before its children."""
    stored: dict[tuple[int, ...], KeySymbol] = {}
    last = len(children)
    for key in design.keys(children):
        kind = KeySymbol.Kind.CHANGE if len(key.path) == last else KeySymbol.Kind.MASTER
        stored[key.path] = _new_symbol(
            system,
            kind,
            key.symbol,
            key.bitting,
            parent=stored[key.path[:-1]] if key.path else None,
            level=len(key.path),
            ordinal=key.path[-1] if key.path else 0,
        )
    symbols = list(stored.values())
    if design.control is not None:
        symbols.append(_new_symbol(system, KeySymbol.Kind.CONTROL, engine.CONTROL, design.control))
    KeySymbol.objects.bulk_create(symbols, batch_size=2000)
    return len(symbols)


def _new_symbol(
    system: KeySystem,
    kind: KeySymbol.Kind,
    name: str,
    bitting: str,
    *,
    parent: KeySymbol | None = None,
    level: int | None = None,
    ordinal: int = 0,
) -> KeySymbol:
    symbol = KeySymbol(
        system=system, kind=kind, symbol=name, parent=parent, level=level, ordinal=ordinal, bitting=b""
    )
    symbol.bitting = vault.seal(symbol, "bitting", bitting)
    symbol.fingerprint = vault.fingerprint(str(system.pk), bitting)
    return symbol
