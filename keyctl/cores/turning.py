"""Which keys turn a core, worked out from its pins for every key that enters its keyway."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import islice
from typing import Self
from uuid import UUID

from django.db.models import QuerySet

from keyctl import engine
from keyctl.cores.models import Core, Turn
from keyctl.formats.keyways import blanks_into, keyways_entered_by
from keyctl.lib.paging import by_identifier
from keyctl.systems.models import KeySymbol, KeySystem
from keyctl.systems.services import bitting_of
from keyctl.vault import services as vault

Symbols = QuerySet[KeySymbol] | Sequence[KeySymbol]

BATCH = 500
ROWS_AT_ONCE = 2000


@dataclass(frozen=True)
class KeyFamily:
    """The cores of one keyway and format, and the keys that enter them and are cut to the same depths.

    Keys on blanks of the core's own keyway enter, and on those that the blank table names. Another key does
    not enter the core at all, so it need not be tried against the pins.
    """

    format_id: str
    keyway: str

    @classmethod
    def of(cls, system: KeySystem) -> Self:
        return cls(system.format_id, system.keyway)

    @classmethod
    def entered_by(cls, system: KeySystem) -> list[Self]:
        """The families whose cores the keys of a system enter."""
        return [cls(system.format_id, keyway) for keyway in keyways_entered_by(system.keyway)]

    def blanks(self) -> list[str]:
        """The keyways whose blanks enter."""
        return blanks_into(self.keyway)

    def lets_in(self, system: KeySystem) -> bool:
        return system.format_id == self.format_id and system.keyway in self.blanks()

    def systems(self) -> QuerySet[KeySystem]:
        """Those whose keys enter."""
        return KeySystem.objects.filter(format_id=self.format_id, keyway__in=self.blanks())

    def symbols(self) -> QuerySet[KeySymbol]:
        return KeySymbol.objects.filter(system__format_id=self.format_id, system__keyway__in=self.blanks())

    def keys(self) -> "engine.KeyIndex[UUID]":
        """For one core at a time."""
        return engine.KeyIndex(self._bittings(self.symbols()))

    def key_side(self, symbols: "Symbols | None" = None) -> "engine.KeySide[UUID]":
        """For many cores at once: all keys that enter, or these of them."""
        chosen = self.symbols() if symbols is None else symbols
        return engine.key_side(self.format_id, self._bittings(chosen))

    def pinned(self) -> QuerySet[Core]:
        return Core.objects.filter(
            format_id=self.format_id, system__keyway=self.keyway, pinning__isnull=False
        )

    def cores(self) -> Iterator[tuple[Core, engine.Pinning]]:
        """The pinned cores with their pins; the caller has told history why it looks."""
        for core in by_identifier(self.pinned().select_related("system"), BATCH):
            yield core, pins_of(core)

    def hold(self) -> None:
        """Until the transaction ends, nobody adds a key that enters."""
        list(self.systems().select_for_update().order_by("pk").values_list("pk"))

    def _bittings(self, symbols: "Symbols") -> dict[UUID, engine.Bitting]:
        listed = symbols.iterator() if isinstance(symbols, QuerySet) else iter(symbols)
        return {symbol.pk: engine.read_key(self.format_id, bitting_of(symbol)) for symbol in listed}


def pins_of(core: Core) -> engine.Pinning:
    return engine.restore(core.format_id, vault.unseal(core, "pinning"))


def turns_of(core: Core, pinned: engine.Pinning, keys: "engine.KeyIndex[UUID]") -> list[Turn]:
    return [
        Turn(core=core, symbol_id=key, operates=operates, withdraws=withdraws)
        for key, operates, withdraws in keys.turning(pinned)
    ]


def turns_by_all(core: Core, pinned: engine.Pinning) -> list[Turn]:
    """The keys that enter the core and do something to these pins; none where the keyway is not known."""
    return turns_of(core, pinned, KeyFamily.of(core.system).keys()) if core.system else []


def try_newcomers(symbols: Sequence[KeySymbol]) -> None:
    """New keys, on the cores that are pinned already; every other turn stays as it is."""
    by_system: dict[KeySystem, list[KeySymbol]] = {}
    for symbol in symbols:
        by_system.setdefault(symbol.system, []).append(symbol)
    for system, keys in by_system.items():
        for family in KeyFamily.entered_by(system):
            add_turns(family, keys)


def add_turns(family: KeyFamily, symbols: "Symbols") -> None:
    """The turns of these keys on the family's pinned cores; none of them is stored yet."""
    if not family.pinned().exists():
        return
    keys = family.key_side(symbols)
    cores = family.cores()
    while batch := list(islice(cores, BATCH)):
        found = engine.turning(keys, {core.pk: pins for core, pins in batch})
        Turn.objects.bulk_create(
            [
                Turn(core_id=core, symbol_id=key, operates=operates, withdraws=withdraws)
                for core, key, operates, withdraws in found
            ],
            batch_size=ROWS_AT_ONCE,
        )
