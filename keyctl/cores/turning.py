"""Which keys turn a core, worked out from its pins for every key that enters its keyway."""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Self
from uuid import UUID

from django.db.models import QuerySet

from keyctl import engine
from keyctl.cores.models import Core, Turn
from keyctl.systems.models import KeySymbol, KeySystem
from keyctl.systems.services import bitting_of
from keyctl.vault import services as vault


@dataclass(frozen=True)
class KeyFamily:
    """The keys that enter the same keyway and are cut to the same depths.

    A key of another family does not enter the core at all, so it need not be tried against the pins.
    """

    format_id: str
    keyway: str

    @classmethod
    def of(cls, system: KeySystem) -> Self:
        return cls(system.format_id, system.keyway)

    def systems(self) -> QuerySet[KeySystem]:
        return KeySystem.objects.filter(format_id=self.format_id, keyway=self.keyway)

    def symbols(self) -> QuerySet[KeySymbol]:
        return KeySymbol.objects.filter(system__format_id=self.format_id, system__keyway=self.keyway)

    def keys(self) -> "engine.KeyIndex[UUID]":
        symbols = self.symbols().iterator()
        return engine.KeyIndex(
            {symbol.pk: engine.read_key(self.format_id, bitting_of(symbol)) for symbol in symbols}
        )

    def cores(self) -> Iterator[tuple[Core, engine.Pinning]]:
        """The pinned cores with their pins; the caller has told history why it looks."""
        cores = Core.objects.filter(
            format_id=self.format_id, system__keyway=self.keyway, pinning__isnull=False
        ).select_related("system")
        for core in cores.order_by("pk").iterator(chunk_size=1000):
            yield core, pins_of(core)


def pins_of(core: Core) -> engine.Pinning:
    return engine.restore(core.format_id, vault.unseal(core, "pinning"))


def turns_of(core: Core, pinned: engine.Pinning, keys: "engine.KeyIndex[UUID]") -> list[Turn]:
    return [
        Turn(core=core, symbol_id=key, operates=operates, withdraws=withdraws)
        for key, operates, withdraws in keys.turning(pinned)
    ]


def turns_by_all(core: Core, pinned: engine.Pinning) -> list[Turn]:
    """The keys of the core's keyway that do something to these pins; none where the keyway is not known."""
    return turns_of(core, pinned, KeyFamily.of(core.system).keys()) if core.system else []
