"""The proof of the estate: every key against the pins of every core, compared with the plan."""

from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass, field
from uuid import UUID

from django.db import models, transaction
from django.utils.translation import gettext_lazy

from keyctl import engine
from keyctl.accounts.models import User
from keyctl.audit.services import record
from keyctl.cores.models import Core, Keying, Turn
from keyctl.cores.turning import BATCH, ROWS_AT_ONCE, KeyFamily, pins_of
from keyctl.formats.keyways import mark_tried
from keyctl.places.models import Site
from keyctl.systems.models import KeySymbol, KeySystem

Effects = dict[UUID, tuple[bool, bool]]
"""By key: whether it operates the core, and whether it withdraws it."""


class Kind(models.TextChoices):
    """How pins and plan can differ."""

    DOES_NOT_TURN = "does-not-turn", gettext_lazy("is planned to turn it and does not")
    TURNS_UNPLANNED = "turns-unplanned", gettext_lazy("turns it and is not planned to")
    DOES_NOT_WITHDRAW = "does-not-withdraw", gettext_lazy("is its control key and does not take it out")
    WITHDRAWS_UNPLANNED = "withdraws-unplanned", gettext_lazy("takes it out and is not its control key")


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

    def add(self, batch: "Batch") -> None:
        self.cores += len(batch.cores)
        self.turning += batch.count(0)
        self.withdrawing += batch.count(1)
        self.disagreements += batch.disagreements


@dataclass(frozen=True)
class Scope:
    """The cores to prove: all, or those of a site, or of a system."""

    site: Site | None = None
    system: KeySystem | None = None

    def narrow(self, cores: models.QuerySet[Core]) -> models.QuerySet[Core]:
        if self.site:
            cores = cores.filter(site=self.site)
        return cores.filter(system=self.system) if self.system else cores

    @property
    def total(self) -> int:
        return self.narrow(Core.objects.filter(pinning__isnull=False, system__isnull=False)).count()

    @property
    def is_whole(self) -> bool:
        return self.site is None and self.system is None


@dataclass(frozen=True)
class Batch:
    """Some cores of a family, in the order of their identifiers, with what each key does to their pins."""

    family: KeyFamily
    cores: list[Core]
    pins: dict[UUID, engine.Pinning]
    effects: dict[UUID, Effects]
    disagreements: list[Disagreement]

    def count(self, line: int) -> int:
        return sum(effect[line] for found in self.effects.values() for effect in found.values())


# Told now and then how many cores were tried.
Watcher = Callable[[int], None]


def prove_estate(*, actor: User, watch: Watcher | None = None, store: bool = True) -> Proof:
    """Try every key that enters a keyway against the pins of every core in it.

    A pair whose keyways do not fit counts as tried: the key does not enter. With ``store`` the stored turns
    are brought to what the pins gave, and history records the proof.
    """
    proof, scope = Proof(keys=KeySymbol.objects.count()), Scope()
    for family in families():
        prover = Prover(family, scope)
        while batch := prover.take(store=store):
            proof.add(batch)
            if watch:
                watch(proof.cores)
    proof.pairs = proof.cores * proof.keys
    if store:
        mark_tried()
        record_proof(actor, proof, len(proof.disagreements))
    return proof


def families() -> list[KeyFamily]:
    return sorted(
        {KeyFamily.of(system) for system in KeySystem.objects.all()},
        key=lambda family: (family.format_id, family.keyway),
    )


class Prover:
    """One family, batch by batch; its keys are unsealed once, and again where keys or blanks were added."""

    def __init__(self, family: KeyFamily, scope: Scope, after: UUID | None = None) -> None:
        self.family, self.scope, self.after = family, scope, after
        self._known: tuple[int, tuple[str, ...]] | None = None
        self._keys: engine.KeySide[UUID]
        self._plan: _Plan

    @transaction.atomic
    def take(self, *, store: bool) -> Batch | None:
        """The next cores; None at the end. Their rows are held, so that no pins change meanwhile."""
        self.family.hold()
        cores = self._next()
        if not cores:
            return None
        pins = {core.pk: pins_of(core) for core in cores}
        effects: dict[UUID, Effects] = {core.pk: {} for core in cores}
        self._read()
        for core, key, operates, withdraws in engine.turning(self._keys, pins):
            effects[core][key] = operates, withdraws
        if store:
            _store(effects)
        self.after = cores[-1].pk
        return Batch(self.family, cores, pins, effects, list(self._plan.compare(cores, effects)))

    def _next(self) -> list[Core]:
        wanted = self.scope.narrow(self.family.pinned()).order_by("pk")
        if self.after:
            wanted = wanted.filter(pk__gt=self.after)
        cores = list(wanted.select_for_update()[:BATCH])
        systems = {system.pk: system for system in KeySystem.objects.filter(pk__in=_systems_of(cores))}
        for core in cores:
            core.system = systems[core.system_id] if core.system_id else None
        return cores

    def _read(self) -> None:
        known = self.family.symbols().count(), tuple(self.family.blanks())
        if known != self._known:
            self._known, self._keys, self._plan = known, self.family.key_side(), _Plan(self.family)


def record_proof(actor: User, proof: Proof, disagreements: int, scope: Scope | None = None) -> None:
    """Written down under the site it was asked for, or under none: every site's history then tells it."""
    scope = scope or Scope()
    of = f"the cores of {scope.system.code}" if scope.system else str(scope.site or "the estate")
    record(
        actor=actor,
        verb="estate.proven",
        sentence=(
            f"proved {of}: {proof.keys} keys against {proof.cores} cores, {disagreements} disagreements"
        ),
        site_id=scope.site.pk if scope.site else None,
        subjects=[thing for thing in (scope.site, scope.system) if thing],
        detail={"cores": proof.cores, "keys": proof.keys, "disagreements": disagreements},
    )


class _Plan:
    """What the cores of a family are meant to be turned and taken out by; its trees are read once."""

    def __init__(self, family: KeyFamily) -> None:
        own = KeySymbol.objects.filter(system__format_id=family.format_id, system__keyway=family.keyway)
        rows = list(own.values_list("pk", "parent_id", "kind", "system_id"))
        self._above = {key: parent for key, parent, _, _ in rows}
        self._control = {system: key for key, _, kind, system in rows if kind == KeySymbol.Kind.CONTROL}
        self._retired = set(own.filter(retired_at__isnull=False).values_list("pk", flat=True))

    def compare(self, cores: list[Core], effects: dict[UUID, Effects]) -> Iterator[Disagreement]:
        planned: dict[UUID, set[UUID]] = {core.pk: set() for core in cores}
        for core_id, key in Keying.objects.filter(core__in=planned).values_list("core", "symbol"):
            planned[core_id].update(self._line(key))
        for core in cores:
            found = effects[core.pk].items()
            turning = {key for key, (operates, _) in found if operates}
            withdrawing = {key for key, (_, withdraws) in found if withdraws}
            control = self._control.get(core.system_id) if core.system_id else None
            meant = {control} if control else set()
            kinds = Kind.DOES_NOT_TURN, Kind.TURNS_UNPLANNED
            yield from _differences(core, turning, planned[core.pk], *kinds)
            kinds = Kind.DOES_NOT_WITHDRAW, Kind.WITHDRAWS_UNPLANNED
            yield from _differences(core, withdrawing, meant, *kinds)

    def _line(self, key: UUID | None) -> Iterator[UUID]:
        while key is not None:
            if key not in self._retired:
                yield key
            key = self._above.get(key)


def _systems_of(cores: list[Core]) -> set[UUID]:
    return {core.system_id for core in cores if core.system_id}


def _differences(
    core: Core, pins: set[UUID], plan: set[UUID], missing: Kind, unplanned: Kind
) -> Iterable[Disagreement]:
    return [Disagreement(core, key, missing) for key in plan - pins] + [
        Disagreement(core, key, unplanned) for key in pins - plan
    ]


def _store(effects: dict[UUID, Effects]) -> None:
    """Only what differs from the stored turns is written."""
    stored = Turn.objects.filter(core__in=effects).values_list(
        "pk", "core", "symbol", "operates", "withdraws"
    )
    stale, kept = [], set()
    for pk, core, key, operates, withdraws in stored:
        if effects[core].get(key) == (operates, withdraws):
            kept.add((core, key))
        else:
            stale.append(pk)
    for start in range(0, len(stale), BATCH):
        Turn.objects.filter(pk__in=stale[start : start + BATCH]).delete()
    fresh = [
        Turn(core_id=core, symbol_id=key, operates=operates, withdraws=withdraws)
        for core, found in effects.items()
        for key, (operates, withdraws) in found.items()
        if (core, key) not in kept
    ]
    Turn.objects.bulk_create(fresh, batch_size=ROWS_AT_ONCE)
