"""The proof of the estate: every key against the pins of every core, compared with the plan."""

from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass, field
from uuid import UUID

from django.db import models, transaction

from keyctl import engine
from keyctl.accounts.models import User
from keyctl.audit.services import record
from keyctl.cores.models import Core, Turn
from keyctl.cores.selectors import planned_keys
from keyctl.cores.turning import KeyFamily, turns_of
from keyctl.systems.models import KeySymbol, KeySystem

BATCH = 500


class Kind(models.TextChoices):
    """How pins and plan can differ."""

    DOES_NOT_TURN = "does-not-turn", "is planned to turn it and does not"
    TURNS_UNPLANNED = "turns-unplanned", "turns it and is not planned to"
    DOES_NOT_WITHDRAW = "does-not-withdraw", "is its control key and does not take it out"
    WITHDRAWS_UNPLANNED = "withdraws-unplanned", "takes it out and is not its control key"


@dataclass(frozen=True)
class Disagreement:
    core: Core
    symbol_id: UUID
    kind: Kind


@dataclass
class Proof:
    """What was tried and what came of it."""

    cores: int = 0
    keys: int = 0
    pairs: int = 0
    turning: int = 0
    withdrawing: int = 0
    disagreements: list[Disagreement] = field(default_factory=list)


# Told now and then how many cores were tried.
Watcher = Callable[[int], None]


def prove_estate(*, actor: User, watch: Watcher | None = None, store: bool = True) -> Proof:
    """Try every key that enters a keyway against the pins of every core in it.

    A pair whose keyways differ counts as tried: the key does not enter. With ``store`` the stored turns
    are replaced by what the pins gave, and history records the proof.
    """
    proof = Proof(keys=KeySymbol.objects.count())
    for family in families():
        keys = family.keys()
        for batch in _batches(family.cores()):
            found = {core.pk: turns_of(core, pinned, keys) for core, pinned in batch}
            _compare(proof, [core for core, _ in batch], found)
            if store:
                _store(found)
            if watch:
                watch(proof.cores)
    proof.pairs = proof.cores * proof.keys
    if store:
        _record(actor, proof)
    return proof


def families() -> list[KeyFamily]:
    return sorted(
        {KeyFamily.of(system) for system in KeySystem.objects.all()},
        key=lambda family: (family.format_id, family.keyway),
    )


def _batches(
    cores: Iterable[tuple[Core, engine.Pinning]],
) -> Iterator[list[tuple[Core, engine.Pinning]]]:
    batch: list[tuple[Core, engine.Pinning]] = []
    for pair in cores:
        batch.append(pair)
        if len(batch) == BATCH:
            yield batch
            batch = []
    if batch:
        yield batch


def _compare(proof: Proof, cores: list[Core], found: dict[UUID, list[Turn]]) -> None:
    planned = planned_keys(core.pk for core in cores)
    control = dict(
        KeySymbol.objects.filter(
            kind=KeySymbol.Kind.CONTROL, system__in={core.system_id for core in cores}
        ).values_list("system_id", "pk")
    )
    for core in cores:
        turning = {turn.symbol_id for turn in found[core.pk] if turn.operates}
        withdrawing = {turn.symbol_id for turn in found[core.pk] if turn.withdraws}
        proof.cores += 1
        proof.turning += len(turning)
        proof.withdrawing += len(withdrawing)
        meant_to_withdraw = {control[core.system_id]} if core.system_id in control else set()
        proof.disagreements += _differences(
            core, turning, set(planned[core.pk]), Kind.DOES_NOT_TURN, Kind.TURNS_UNPLANNED
        )
        proof.disagreements += _differences(
            core, withdrawing, meant_to_withdraw, Kind.DOES_NOT_WITHDRAW, Kind.WITHDRAWS_UNPLANNED
        )


def _differences(
    core: Core, pins: set[UUID], plan: set[UUID], missing: Kind, unplanned: Kind
) -> list[Disagreement]:
    return [Disagreement(core, key, missing) for key in plan - pins] + [
        Disagreement(core, key, unplanned) for key in pins - plan
    ]


@transaction.atomic
def _store(found: dict[UUID, list[Turn]]) -> None:
    Turn.objects.filter(core__in=found).delete()
    Turn.objects.bulk_create([turn for turns in found.values() for turn in turns], batch_size=2000)


def _record(actor: User, proof: Proof) -> None:
    record(
        actor=actor,
        verb="estate.proven",
        sentence=(
            f"proved the estate: {proof.keys} keys against {proof.cores} cores, "
            f"{len(proof.disagreements)} disagreements"
        ),
        detail={"cores": proof.cores, "keys": proof.keys, "disagreements": len(proof.disagreements)},
    )
