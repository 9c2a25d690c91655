"""The door to `pinning`: the only module that imports it. Bittings pass as text, refusals as sentences."""

import json
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from functools import cache, wraps
from itertools import product
from random import Random
from typing import Any, ParamSpec, Self, TypeVar

import pinning.errors
import pinning.formats
import pinning.stacks
from keyctl.lib.errors import Refused
from pinning.audit import KeyIndex
from pinning.bittings import Bitting, parse_any_bitting, parse_bitting
from pinning.controls import make_room, propose_control
from pinning.formats import CoreFormat
from pinning.masters import propose_master
from pinning.progression import Hierarchy, allocate
from pinning.shear import Turning, operating_cuts, withdrawing_cuts
from pinning.shear import turn as try_key
from pinning.stacks import Pinning, PinStack, control_label
from pinning.symbols import CONTROL, key_symbol

__all__ = [
    "CONTROL",
    "Bitting",
    "CoreFormat",
    "Design",
    "DesignedKey",
    "KeyIndex",
    "PinStack",
    "Pinning",
    "Turning",
    "control_label",
    "dump",
    "format_names",
    "load_format",
    "operating_cuts",
    "pin",
    "read_key",
    "restore",
    "try_key",
    "withdrawing_cuts",
]

Given = ParamSpec("Given")
Answer = TypeVar("Answer")


def _refusing(summary: str) -> Callable[[Callable[Given, Answer]], Callable[Given, Answer]]:
    """Turn the package's refusal into the product's, with every reason as a sentence."""

    def decorate(function: Callable[Given, Answer]) -> Callable[Given, Answer]:
        @wraps(function)
        def guarded(*args: Given.args, **kwargs: Given.kwargs) -> Answer:
            try:
                return function(*args, **kwargs)
            except pinning.errors.Refused as refused:
                reasons = [refusal.message for refusal in refused.refusals]
                raise Refused(summary, reasons=reasons) from None

        return guarded

    return decorate


@cache
@_refusing("There is no such core format.")
def load_format(format_id: str) -> CoreFormat:
    return pinning.formats.load(format_id)


def format_names() -> list[tuple[str, str]]:
    return [(known.id, known.name) for known in pinning.formats.load_all()]


@_refusing("These keys cannot be pinned into one core.")
def pin(format_id: str, operating: Sequence[str], control: str | None) -> Pinning:
    return pinning.stacks.pin(load_format(format_id), operating, control)


@_refusing("This is no key of that format.")
def read_key(format_id: str, text: str) -> Bitting:
    return parse_any_bitting(load_format(format_id), text)


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
    @_refusing("No key system can be designed from these figures.")
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


def dump(pinned: Pinning) -> str:
    """The stacks as text, to be sealed."""
    return json.dumps([_stack_fields(stack) for stack in pinned.stacks], separators=(",", ":"))


@_refusing("The stored pinning cannot be read.")
def restore(format_id: str, text: str) -> Pinning:
    return pinning.stacks.parse_stacks(load_format(format_id), json.loads(text))


def _stack_fields(stack: PinStack) -> dict[str, Any]:
    return {
        "position": stack.position,
        "bottom": stack.bottom,
        "masters": list(stack.masters),
        "control": stack.control,
        "top": stack.top,
    }
