"""A small estate to prove: one system, and cores whose pins or plan are changed behind its back."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Self

from keyctl import engine
from keyctl.cores.models import Core, Keying
from keyctl.proofs.models import Finding, Proof
from keyctl.proofs.services import start_proof
from keyctl.systems.models import KeySymbol, KeySystem
from keyctl.systems.services import bitting_of
from keyctl.vault import services as vault
from tests import factories
from tests.cast import Cast
from tests.jobs import finish


@dataclass
class Estate:
    cast: Cast
    system: KeySystem

    @classmethod
    def of(cls, cast: Cast) -> Self:
        return cls(cast, factories.make_system(cast.north, actor=cast.administrator, keyway="WIDE"))

    def key(self, name: str) -> KeySymbol:
        return factories.symbol(self.system, name)

    def core(self, *names: str) -> Core:
        symbols = [self.key(name) for name in names or ("AA1",)]
        return factories.make_core(
            actor=self.cast.locksmith, site=self.cast.north, system=self.system, symbols=symbols
        )

    def prove(self, *, system: KeySystem | None = None) -> Proof:
        """Of the north site, or of a system."""
        site = None if system else self.cast.north
        finish(start_proof(actor=self.cast.officer, site=site, system=system))
        return Proof.objects.latest("asked_at")

    def prove_whole(self) -> Proof:
        finish(start_proof(actor=self.cast.officer))
        return Proof.objects.latest("asked_at")


def put_pins(core: Core, operating: Sequence[KeySymbol], control: KeySymbol | None = None) -> None:
    """Other pins, without a word to the records."""
    assert core.system
    control = control or core.system.symbols.get(kind=KeySymbol.Kind.CONTROL)
    pinned = engine.pin(core.format_id, [bitting_of(key) for key in operating], bitting_of(control))
    core.pinning = vault.seal(core, "pinning", engine.dump(pinned))
    core.save(update_fields=["pinning"])


def key_to(core: Core, *symbols: KeySymbol, at: datetime | None) -> None:
    """Another plan, made at that moment."""
    Keying.objects.filter(core=core).delete()
    Keying.objects.bulk_create([Keying(core=core, symbol=symbol, made_at=at) for symbol in symbols])


def told(proof: Proof) -> set[tuple[str, str, str]]:
    """(key, kind, cause) of each finding."""
    found = Finding.objects.filter(proof=proof).select_related("symbol")
    return {(each.symbol.symbol, each.kind, each.cause) for each in found}
