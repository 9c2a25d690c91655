"""Pins and keys as a locksmith would type them, from what the records hold. Invented, like all test data."""

from keyctl.audit.models import Event
from keyctl.cores.models import Core
from keyctl.cores.turning import pins_of
from keyctl.engine import CoreFormat, Pinning, PinStack, control_label
from keyctl.systems.models import KeySymbol
from keyctl.systems.services import bitting_of

# Who gets which answer where only a locksmith of the site may work.
STATUS = {
    "locksmith": 200,
    "desk": 403,
    "manager": 403,
    "officer": 403,
    "auditor": 403,
    "administrator": 403,
    "requester": 403,
    "stranger": 404,
}


def sizes_of(stack: PinStack) -> list[int]:
    control = [] if stack.control is None else [stack.control]
    return [stack.bottom, *stack.masters, *control, stack.top]


def in_kit_numbers(pinned: Pinning) -> dict[str, str]:
    """As the shop writes them: some number a control pin from the sleeve."""
    typed = {f"pins_{stack.position}": _typed(pinned.format, stack) for stack in pinned.stacks}
    return typed | {"units": "kit"}


def _typed(chosen: CoreFormat, stack: PinStack) -> str:
    pins = [control_label(chosen, size) if role == "control" else str(size) for role, size in stack.pins]
    return " ".join(pins)


def in_inches(pinned: Pinning, *, longer: float = 0.0) -> dict[str, str]:
    """Each pin as a micrometer shows it; ``longer`` is added to the bottom pins."""
    increment, lowest = pinned.format.increment_in, pinned.format.base_pin_in
    typed = {}
    for stack in pinned.stacks:
        bottom, *others = sizes_of(stack)
        lengths = [lowest + bottom * increment + longer, *(size * increment for size in others)]
        typed[f"pins_{stack.position}"] = " ".join(f"{length:.4f}" for length in lengths)
    return typed | {"units": "inches", "tolerance_in": "0.002"}


def tray_of(core: Core) -> dict[str, str]:
    return in_kit_numbers(pins_of(core))


def bittings_of(core: Core) -> list[str]:
    assert core.system
    return [bitting_of(symbol) for symbol in KeySymbol.objects.filter(system=core.system)]


def secrets_in(text: str, core: Core) -> list[str]:
    """The bittings of the core's system that stand in a text."""
    return [bitting for bitting in bittings_of(core) if bitting in text]


def told_history() -> str:
    return "\n".join(f"{event.verb} {event.sentence} {event.detail}" for event in Event.objects.all())
