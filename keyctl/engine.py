"""The door to `pinning`: the only module that imports it. Bittings pass as text, refusals as sentences."""

import json
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from functools import cache, wraps
from itertools import product
from random import Random
from typing import Any, ParamSpec, Self, TypeVar

import pinning.calipers
import pinning.errors
import pinning.formats
import pinning.profiles
import pinning.reading
import pinning.selfproof
import pinning.shear
import pinning.stacks
from keyctl.lib.errors import Refused
from pinning.audit import KeyIndex
from pinning.bittings import Bitting, parse_any_bitting, parse_bitting
from pinning.calipers import KeyReading
from pinning.controls import make_room, propose_control
from pinning.doubts import Doubt
from pinning.formats import CoreFormat
from pinning.masters import propose_master
from pinning.profiles import Profile
from pinning.progression import Hierarchy, allocate
from pinning.reading import Reading
from pinning.repin import Repin
from pinning.repin import repin as change_pins
from pinning.residuals import Residual
from pinning.residuals import residuals as distances
from pinning.selfproof import FormatProof
from pinning.shear import Turning, operating_cuts, withdrawing_cuts
from pinning.stacks import Pinning, PinStack, control_label
from pinning.symbols import CONTROL, key_symbol

__all__ = [
    "CONTROL",
    "Bitting",
    "CoreFormat",
    "Design",
    "DesignedKey",
    "Doubt",
    "FormatProof",
    "KeyIndex",
    "KeyReading",
    "PinStack",
    "Pinning",
    "Profile",
    "Reading",
    "Repin",
    "Residual",
    "Turning",
    "add_format_source",
    "constructions",
    "control_label",
    "dump",
    "format_names",
    "format_parameters",
    "key_profile",
    "load_format",
    "operating_cuts",
    "parse_format",
    "pin",
    "prove_format",
    "read_key",
    "read_measured_key",
    "read_stacks",
    "repin",
    "residuals",
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


FormatSource = Callable[[str], dict[str, Any] | None]
_format_sources: list[FormatSource] = []


def add_format_source(source: FormatSource) -> None:
    """Where a shop's own formats come from. What a source gave once for an id, it gives for ever."""
    _format_sources.append(source)


@cache
@_refusing("There is no such core format.")
def load_format(format_id: str) -> CoreFormat:
    for source in _format_sources:
        if (parameters := source(format_id)) is not None:
            return pinning.formats.parse_format(parameters)
    return pinning.formats.load(format_id)


@_refusing("These parameters make no core format.")
def parse_format(parameters: dict[str, Any]) -> CoreFormat:
    return pinning.formats.parse_format(parameters)


def format_parameters(chosen: CoreFormat) -> dict[str, Any]:
    return pinning.formats.to_mapping(chosen)


def constructions() -> list[str]:
    """The constructions that the built-in formats know: what a housing can take."""
    return sorted({known.construction for known in pinning.formats.load_all()})


def format_names() -> list[tuple[str, str]]:
    return [(known.id, known.name) for known in pinning.formats.load_all()]


@_refusing("These keys cannot be pinned into one core.")
def pin(format_id: str, operating: Sequence[str], control: str | None) -> Pinning:
    return pinning.stacks.pin(load_format(format_id), operating, control)


@_refusing("This is no key of that format.")
def read_key(format_id: str, text: str) -> Bitting:
    return parse_any_bitting(load_format(format_id), text)


@_refusing("These pins cannot be read.")
def read_stacks(
    format_id: str,
    *,
    stacks: str | None = None,
    measured_in: Sequence[Sequence[float]] | None = None,
    tolerance_in: float = 0.002,
) -> Reading:
    """The cuts behind pins taken out: ``stacks`` as ``dump`` writes them, or lengths by micrometer."""
    columns = None if stacks is None else _parsed(stacks)
    return pinning.reading.read_stacks(load_format(format_id), columns, measured_in, tolerance_in)


@_refusing("This key cannot be read.")
def read_measured_key(
    format_id: str, root_depths_in: Sequence[float], tolerance_in: float = 0.002
) -> KeyReading:
    return pinning.calipers.read_key(load_format(format_id), list(root_depths_in), tolerance_in)


@_refusing("These pins cannot be measured against the lines.")
def residuals(format_id: str, measured_in: Sequence[Sequence[float]]) -> tuple[tuple[Residual, ...], ...]:
    return distances(load_format(format_id), measured_in)


@_refusing("One of these pinnings cannot become the other.")
def repin(now: Pinning, target: Pinning) -> Repin:
    return change_pins(now, target)


@_refusing("This key cannot be tried in that core.")
def try_key(pinned: Pinning, bitting: Bitting, blank: str = "operating") -> Turning:
    """What the key does; ``blank`` is "control" for one cut on the longer blank of a tip-operated core."""
    return pinning.shear.turn(pinned, bitting, blank)


@_refusing("These parameters make no core format.")
def prove_format(parameters: dict[str, Any]) -> FormatProof:
    return pinning.selfproof.prove_format(pinning.formats.parse_format(parameters))


@_refusing("This key cannot be drawn.")
def key_profile(format_id: str, text: str) -> Profile:
    chosen = load_format(format_id)
    return pinning.profiles.key_profile(chosen, parse_any_bitting(chosen, text))


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


def _parsed(text: str) -> object:
    try:
        return json.loads(text)
    except ValueError:
        raise Refused("These are no pins; enter them anew.") from None


def _stack_fields(stack: PinStack) -> dict[str, Any]:
    return {
        "position": stack.position,
        "bottom": stack.bottom,
        "masters": list(stack.masters),
        "control": stack.control,
        "top": stack.top,
    }
