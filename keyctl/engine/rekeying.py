"""Rekeying after a loss: keys in the place of others, cores pinned anew, and the proof of it beforehand."""

from collections import Counter
from collections.abc import Callable, Hashable, Iterable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field
from functools import lru_cache
from random import Random
from typing import Any

import numpy as np

from keyctl.engine.designs import Design
from keyctl.engine.formats import load_format
from pinning.bittings import Bitting, parse_any_bitting
from pinning.columns import Pinning, PinStack
from pinning.controls import make_room, propose_control
from pinning.errors import Refused as RefusedByPinning
from pinning.figures import CoreFormat
from pinning.hierarchy import allocate
from pinning.masters import propose_master
from pinning.progression import key_bitting_array, progress
from pinning.rekeying import Ground, Outside, Part
from pinning.repin import repin
from pinning.replacing import Replacement, replace_key
from pinning.sides import CoreSide, KeySide, audit
from pinning.stacks import pin
from pinning.wording import said

__all__ = ["Proven", "RekeyWorld", "Rekeyed", "Replacement", "changes_below", "pins_to_add", "redraw"]

Watch = Callable[[int], None]
Effect = tuple[bool, bool]
NOTHING = (False, False)
MOST_DRAWS = 30


@dataclass(frozen=True)
class Rekeyed:
    """A core as it shall be: the keys that turn it, by their names, and its pins."""

    keys: frozenset[Hashable]
    pins: Pinning = field(repr=False)


@dataclass(frozen=True)
class Proven:
    """What is wrong with cores as planned, by core; `called_back` counts cores that a key turns which is
    taken out of use, until its copies are destroyed.
    """

    faults: Mapping[Hashable, str]
    called_back: int

    @property
    def is_good(self) -> bool:
        return not self.faults


class RekeyWorld:
    """All keys that enter the cores of a system, and all cores that its keys enter, from their pins.

    `keys` and `cores` are by name. The names in `lost` must turn nothing of what is planned.
    """

    def __init__(
        self,
        format_id: str,
        keys: Mapping[Any, str],
        cores: Mapping[Any, Pinning],
        *,
        lost: Iterable[Hashable],
        control: Hashable = None,
    ) -> None:
        self.format = load_format(format_id)
        self.keys = {name: parse_any_bitting(self.format, text) for name, text in keys.items()}
        self.lost = frozenset(lost) & self.keys.keys()
        self.control = control
        self.cores = dict(cores)
        self._side: KeySide[Any] | None = None
        self._boxes = CoreSide(self.format, self.cores)
        self._places = {core: place for place, core in enumerate(self._boxes.ids)}

    @property
    def side(self) -> "KeySide[Any]":
        if self._side is None:
            self._side = KeySide(self.format, self.keys)
        return self._side

    def with_keys(self, more: Mapping[Any, str]) -> None:
        """These keys are there too from now on."""
        self.keys |= {name: parse_any_bitting(self.format, text) for name, text in more.items()}
        self._side = None

    @contextmanager
    def control_key(self, name: Any, text: str) -> Iterator[None]:
        """As if the cores had this control key, for as long as it lasts."""
        before = self.control
        self.with_keys({name: text})
        self.control = name
        try:
            yield
        finally:
            self.control = before
            self.without_keys([name])

    def without_keys(self, names: Iterable[Any]) -> None:
        """Keys that were only thought of."""
        for name in names:
            del self.keys[name]
        self._side = None

    def effects(self, cores: Iterable[Any]) -> dict[Any, dict[Any, Effect]]:
        """By core and key, what the pins do now: (operates, withdraws)."""
        return self._effects({core: self.cores[core] for core in cores})

    def let_in_anyhow(self, kept: Mapping[Any, Sequence[Any]]) -> list[Any]:
        """The cores that let a lost key in by these keys alone."""
        listed = list(kept)
        return [listed[place] for place in self._ground(kept).let_in_anyhow()]

    def replace(
        self,
        kept: Mapping[Any, Sequence[Any]],
        *,
        beside: Iterable[Pinning] = (),
        candidates: Iterable[Bitting] | None = None,
        limit_s: float = 60,
        watch: Watch | None = None,
        rng: Random | None = None,
    ) -> Replacement:
        """A key for these cores beside the keys that stay in each, given by core.

        `beside` are other cores as they shall be, which it must not turn either.
        """
        ground = self._ground(kept, beside)
        return replace_key(ground, candidates=candidates, limit_s=limit_s, watch=watch, rng=rng)

    def _ground(self, kept: Mapping[Any, Sequence[Any]], beside: Iterable[Pinning] = ()) -> Ground:
        part = Part(
            self.format, [[self.keys[key] for key in keys] for keys in kept.values()], self._control_key
        )
        order = {core: place for place, core in enumerate(kept)}
        known = [
            (order[core], key, *effect)
            for core, found in self.effects(kept).items()
            for key, effect in found.items()
        ]
        outside = self._outside(kept, beside)
        return Ground(part, self.side, lost=self.lost, control=self.control, outside=outside, known=known)

    def pin(self, keys: Iterable[Any]) -> Pinning | None:
        """The pins for these keys; None where they cannot share a core."""
        texts = sorted({self.keys[key].text for key in keys})
        try:
            return pin(self.format, texts, self._control_key)
        except RefusedByPinning:
            return None

    def prove(
        self, planned: Mapping[Any, Rekeyed], new: Iterable[Any] = (), leaving: Iterable[Any] = ()
    ) -> Proven:
        """Whether the planned cores do what they shall and nothing else, all keys tried on all of them.

        `new` names the keys that are not cut yet: they are tried on every core outside the plan too. What a
        key did before it may do on, but for the lost ones. Keys that are `leaving` are only counted.
        """
        after = self._effects({core: rekeyed.pins for core, rekeyed in planned.items()})
        before = self.effects(core for core in planned if core in self.cores)
        gone, called_back = frozenset(leaving) - self.lost, 0
        faults: dict[Hashable, str] = {}
        for core, rekeyed in planned.items():
            wrong = self._wrong(rekeyed, after[core], before.get(core, {}))
            if told := next((words for key, words in wrong.items() if key not in gone), None):
                faults[core] = told
            called_back += any(key in gone for key in wrong)
        fresh = KeySide[Hashable](self.format, {key: self.keys[key] for key in new})
        for key in self._outside(planned).let_in_any(fresh):
            faults[key] = said("a new key would turn a core outside the plan")
        return Proven(faults, called_back)

    def _wrong(
        self, rekeyed: Rekeyed, after: Mapping[Any, Effect], before: Mapping[Any, Effect]
    ) -> dict[Any, str]:
        wrong: dict[Any, str] = {}
        for key in after.keys() | rekeyed.keys:
            effect = after.get(key, NOTHING)
            if key in self.lost and any(effect):
                wrong[key] = said("a lost key would still do something to it")
            elif key in rekeyed.keys:
                if effect != (True, False):
                    wrong[key] = said("one of its keys would not turn it as it shall")
            elif _is_new(effect, before.get(key, NOTHING), is_control=key == self.control):
                wrong[key] = said("a key would turn it that must not")
        if self.control is not None and not after.get(self.control, NOTHING)[1]:
            wrong[self.control] = said("its control key would not take it out")
        return wrong

    def _effects(self, cores: Mapping[Any, Pinning]) -> dict[Any, dict[Any, Effect]]:
        found: dict[Any, dict[Any, Effect]] = {core: {} for core in cores}
        side = CoreSide(self.format, cores)
        keys = self.side.ids
        for key, core, operates, withdraws in audit(self.side, side).effects().rows():
            found[side.ids[core]][keys[key]] = operates, withdraws
        return found

    def _outside(self, inside: Iterable[Any], beside: Iterable[Pinning] = ()) -> Outside:
        kept = np.ones(len(self._boxes.ids), bool)
        kept[[self._places[core] for core in inside if core in self._places]] = False
        lines = [self._boxes.operating[kept]]
        if len(self._boxes.withdrawing):
            lines.append(self._boxes.withdrawing[kept])
        more = CoreSide(self.format, dict(enumerate(beside)))
        lines += [more.operating, more.withdrawing]
        return Outside(np.concatenate(lines))

    @property
    def _control_key(self) -> Bitting | None:
        return self.keys[self.control] if self.control is not None else None


def _is_new(effect: Effect, before: Effect, *, is_control: bool) -> bool:
    operates, withdraws = effect
    return (operates and not before[0]) or (withdraws and not before[1] and not is_control)


def changes_below(
    format_id: str, master: str, design: Design | None, level: int, free_positions: Sequence[int]
) -> Iterator[Bitting]:
    """The keys that may stand below a master of that level, in the order of the system's own progression;
    without a design, those that differ from it in the free positions.
    """
    chosen = load_format(format_id)
    above = parse_any_bitting(chosen, master)
    if design is None:
        yield from progress(chosen, above, sequence=sorted(free_positions, reverse=True)).usable()
    elif level < len(design.tree.groups):
        yield from design.tree.children_of(above, level).usable()


def redraw(design: Design, rng: Random, avoiding: Sequence[str] = ()) -> Design:
    """Another system of the same shape: a top master and a control key of its own.

    In one position no key of it has a cut of the bittings in `avoiding`, so that none of its cores can ever
    let one of them in; with a step of two a position of the other parity costs no room for that.
    """
    tree = design.tree
    banned = [parse_any_bitting(tree.format, text).cuts for text in avoiding]
    master, place = _master_apart(tree.format, banned, rng)
    array = (
        make_room(tree.format, master, rng) if tree.format.sleeve else key_bitting_array(tree.format, master)
    )
    if place is not None:
        gone = {cuts[place] for cuts in banned}
        kept = tuple(cut for cut in array[place] if cut not in gone)
        array = (*array[:place], kept, *array[place + 1 :])
    fresh = allocate(tree.format, master, tree.groups, array, constants=tree.constants, rules=tree.rules)
    if not tree.format.sleeve:
        return Design(fresh, None)
    return Design(fresh, propose_control(tree.format, master, rng, fresh.array).text)


def _master_apart(
    format: CoreFormat, banned: Sequence[tuple[int, ...]], rng: Random
) -> tuple[Bitting, int | None]:
    """A top master, and the position in which it and its keys keep clear of the banned cuts."""
    master = propose_master(format, rng)
    for _ in range(MOST_DRAWS if banned else 0):
        for place in rng.sample(range(format.positions), format.positions):
            apart = [abs(master.cuts[place] - cuts[place]) for cuts in banned]
            if all(gap % format.step for gap in apart) or (format.step == 1 and all(apart)):
                return master, place
        master = propose_master(format, rng)
    return master, None


@lru_cache(maxsize=65_536)
def _added(format_id: str, old: PinStack, new: PinStack) -> tuple[tuple[str, int], ...]:
    chosen = load_format(format_id)
    change = repin(Pinning(chosen, (old,)), Pinning(chosen, (new,)))
    return tuple(change.add.elements())


def pins_to_add(old: Pinning, new: Pinning) -> "Counter[tuple[str, int]]":
    """The pins that come from the kit when a core is pinned anew, by role and size."""
    found: Counter[tuple[str, int]] = Counter()
    for before, after in zip(old.stacks, new.stacks, strict=True):
        if before != after:
            found.update(_added(new.format.id, before, after))
    return found
