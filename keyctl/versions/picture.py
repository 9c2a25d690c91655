"""The picture of a system that a version keeps: plain rows, written as compressed text and read again."""

import json
import zlib
from collections.abc import Iterable
from dataclasses import dataclass, field
from typing import Any

from django.db.models import Q

from keyctl.cores.models import Core, Keying, Turn
from keyctl.systems.models import KeySymbol, KeySystem

LAYOUT = 1
# So much of a digest tells two bittings apart: by chance alone, one in 2^64 is missed.
DIGEST_SIGNS = 16
OPERATES, WITHDRAWS = 1, 2


@dataclass(frozen=True, slots=True)
class Key:
    symbol: str
    kind: str
    # Symbol of the key above; empty at the top.
    parent: str
    level: int | None
    digest: str


@dataclass(frozen=True, slots=True)
class PicturedCore:
    """A core that is keyed to a key of the system, or that one does something to."""

    tag: str
    site: str
    # The door it was in, by identifier and as people call it; empty where it was in none.
    door: str
    place: str
    keyed_to: frozenset[str]
    # Symbol -> OPERATES, WITHDRAWS, or both added.
    turns: dict[str, int]


@dataclass(frozen=True)
class Picture:
    keys: dict[str, Key] = field(default_factory=dict)
    cores: dict[str, PicturedCore] = field(default_factory=dict)


def picture_of(system: KeySystem) -> Picture:
    """The system as it is now, in four queries. No bitting is opened."""
    rows = KeySymbol.objects.filter(system=system).order_by()
    listed = rows.values_list("pk", "symbol", "kind", "parent", "level", "fingerprint")
    keys = list(listed.iterator(chunk_size=5000))
    names = {pk: symbol for pk, symbol, *_ in keys}
    pictured = {
        symbol: Key(symbol, kind, names[parent] if parent else "", level, digest[:DIGEST_SIGNS])
        for _, symbol, kind, parent, level, digest in keys
    }
    return Picture(pictured, _cores(system, names))


def _cores(system: KeySystem, names: dict[Any, str]) -> dict[str, PicturedCore]:
    keyed, turns = dict[Any, set[str]](), dict[Any, dict[str, int]]()
    for core, symbol in Keying.objects.filter(symbol__system=system).values_list("core", "symbol"):
        keyed.setdefault(core, set()).add(names[symbol])
    effects = Turn.objects.filter(symbol__system=system)
    for core, symbol, operates, withdraws in effects.values_list("core", "symbol", "operates", "withdraws"):
        effect = OPERATES * operates + WITHDRAWS * withdraws
        turns.setdefault(core, {})[names[symbol]] = effect
    return {
        tag: PicturedCore(tag, site, door, place, frozenset(keyed.get(pk, ())), turns.get(pk, {}))
        for pk, tag, site, door, place in _places(system)
    }


def _places(system: KeySystem) -> Iterable[tuple[Any, str, str, str, str]]:
    """(identifier, tag, site, door, what people call the door) of the cores the system has to do with."""
    cores = Core.objects.filter(
        Q(pk__in=Keying.objects.filter(symbol__system=system).values("core"))
        | Q(pk__in=Turn.objects.filter(symbol__system=system).values("core"))
    )
    facts = ("housing__door", "housing__door__floor__building__code", "housing__door__number")
    rows = cores.order_by("tag").values_list("pk", "tag", "site", *facts, "housing__door__name")
    for pk, tag, site, door, building, number, name in rows.iterator(chunk_size=5000):
        place = f"{building} {number} {name}".strip() if door else ""
        yield pk, tag, str(site), str(door or ""), place


def packed(picture: Picture) -> bytes:
    """Keys are named by their place in the list wherever they occur again."""
    place = {symbol: number for number, symbol in enumerate(picture.keys)}
    keys = [
        [key.symbol, key.kind, place.get(key.parent, -1), key.level, key.digest]
        for key in picture.keys.values()
    ]
    cores = [
        [
            core.tag,
            core.site,
            core.door,
            core.place,
            sorted(place[symbol] for symbol in core.keyed_to),
            sorted((place[symbol], effect) for symbol, effect in core.turns.items()),
        ]
        for core in picture.cores.values()
    ]
    text = json.dumps({"layout": LAYOUT, "keys": keys, "cores": cores}, separators=(",", ":"))
    return zlib.compress(text.encode(), 6)


def unpacked(content: bytes | memoryview) -> Picture:
    stored = json.loads(zlib.decompress(content))
    if stored["layout"] != LAYOUT:
        raise ValueError
    names: list[str] = [row[0] for row in stored["keys"]]
    keys = {
        symbol: Key(symbol, kind, names[parent] if parent >= 0 else "", level, digest)
        for symbol, kind, parent, level, digest in stored["keys"]
    }
    cores = {
        tag: PicturedCore(
            tag,
            site,
            door,
            place,
            frozenset(names[number] for number in keyed),
            {names[number]: effect for number, effect in turns},
        )
        for tag, site, door, place, keyed, turns in stored["cores"]
    }
    return Picture(keys, cores)
