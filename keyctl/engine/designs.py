"""The design of a key system: a top master, a control key and the tree of keys below."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import product
from random import Random
from typing import Any, Self

from keyctl.engine.formats import load_format
from keyctl.engine.refusals import refusing
from pinning.bittings import parse_bitting
from pinning.controls import make_room, propose_control
from pinning.hierarchy import Hierarchy, allocate
from pinning.masters import propose_master
from pinning.symbols import key_symbol


@dataclass(frozen=True)
class DesignedKey:
    """One key of a designed tree; its path counts from the top master, which has the empty path."""

    symbol: str
    path: tuple[int, ...]
    bitting: str


@dataclass(frozen=True)
class Design:
    """A top master, a control key where the format has one, and the tree below."""

    tree: Hierarchy
    control: str | None

    @classmethod
    @refusing("No key system can be designed from these figures.")
    def draw(cls, format_id: str, groups: Sequence[Sequence[int]], rng: Random) -> Self:
        """Draw a top master and a control key, and deal the positions out to the levels."""
        chosen = load_format(format_id)
        master = propose_master(chosen, rng)
        if not chosen.sleeve:
            return cls(allocate(chosen, master, groups), None)
        array = make_room(chosen, master, rng)
        control = propose_control(chosen, master, rng, array)
        return cls(allocate(chosen, master, groups, array), control.text)

    @classmethod
    def of(cls, format_id: str, parameters: dict[str, Any]) -> Self:
        """The same design again from its stored parameters."""
        chosen = load_format(format_id)
        master = parse_bitting(chosen, parameters["master"])
        return cls(allocate(chosen, master, parameters["groups"], parameters["array"]), parameters["control"])

    @property
    def parameters(self) -> dict[str, Any]:
        """What every bitting follows from: as secret as the top master."""
        return {
            "master": self.tree.master.text,
            "control": self.control,
            "array": [list(column) for column in self.tree.array],
            "groups": [list(group) for group in self.tree.groups],
        }

    def keys(self, children: Sequence[int]) -> Iterator[DesignedKey]:
        """The tree from the top down, with ``children[n]`` keys below each key of level n."""
        levels = len(self.tree.groups) + 1
        for depth in range(levels):
            for path in product(*(range(count) for count in children[:depth])):
                yield DesignedKey(key_symbol(levels, path), path, self.tree.bitting(path).text)

    def room(self, path: Sequence[int]) -> int:
        """How many keys can be cut right below a key, used or not."""
        return self.tree.children_total(path)
