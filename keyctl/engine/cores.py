"""Cores and keys: pinning, reading, trying, repinning, measuring."""

import json
from collections.abc import Sequence
from typing import Any

from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

import pinning.calipers
import pinning.lifting
import pinning.profiles
import pinning.reading
import pinning.selfproof
import pinning.shear
import pinning.stacks
from keyctl.engine.formats import load_format
from keyctl.engine.refusals import refusing
from keyctl.lib.errors import Refused
from pinning.bittings import Bitting, parse_any_bitting
from pinning.calipers import KeyReading
from pinning.lifting import LiftedChamber
from pinning.profiles import Profile
from pinning.reading import Reading
from pinning.repin import Repin
from pinning.repin import repin as change_pins
from pinning.residuals import Residual
from pinning.residuals import residuals as distances
from pinning.selfproof import FormatProof
from pinning.shear import Turning
from pinning.stacks import Pinning, PinStack


@refusing(gettext_lazy("These keys cannot be pinned into one core."))
def pin(format_id: str, operating: Sequence[str], control: str | None) -> Pinning:
    return pinning.stacks.pin(load_format(format_id), operating, control)


@refusing(gettext_lazy("This is no key of that format."))
def read_key(format_id: str, text: str) -> Bitting:
    return parse_any_bitting(load_format(format_id), text)


def is_key(format_id: str, text: str) -> bool:
    """Whether the text is a key of that format, without saying what is wrong with it."""
    try:
        read_key(format_id, text)
    except Refused:
        return False
    return True


@refusing(gettext_lazy("These pins cannot be read."))
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


@refusing(gettext_lazy("This key cannot be read."))
def read_measured_key(
    format_id: str, root_depths_in: Sequence[float], tolerance_in: float = 0.002
) -> KeyReading:
    return pinning.calipers.read_key(load_format(format_id), list(root_depths_in), tolerance_in)


@refusing(gettext_lazy("These pins cannot be measured against the lines."))
def residuals(format_id: str, measured_in: Sequence[Sequence[float]]) -> tuple[tuple[Residual, ...], ...]:
    return distances(load_format(format_id), measured_in)


@refusing(gettext_lazy("One of these pinnings cannot become the other."))
def repin(now: Pinning, target: Pinning) -> Repin:
    return change_pins(now, target)


@refusing(gettext_lazy("This key cannot be tried in that core."))
def try_key(pinned: Pinning, bitting: Bitting, blank: str = "operating") -> Turning:
    """What the key does; ``blank`` is "control" for one cut on the longer blank of a tip-operated core."""
    return pinning.shear.turn(pinned, bitting, blank)


@refusing(gettext_lazy("This key cannot be tried in that core."))
def lift(pinned: Pinning, bitting: Bitting) -> tuple[LiftedChamber, ...]:
    """Chamber by chamber, where the pins stand on the key and what stands across a line."""
    return pinning.lifting.lift(pinned, bitting)


@refusing(gettext_lazy("These parameters make no core format."))
def prove_format(parameters: dict[str, Any]) -> FormatProof:
    return pinning.selfproof.prove_format(pinning.formats.parse_format(parameters))


@refusing(gettext_lazy("This key cannot be drawn."))
def key_profile(format_id: str, text: str) -> Profile:
    chosen = load_format(format_id)
    return pinning.profiles.key_profile(chosen, parse_any_bitting(chosen, text))


def dump(pinned: Pinning) -> str:
    """The stacks as text, to be sealed."""
    return json.dumps([_stack_fields(stack) for stack in pinned.stacks], separators=(",", ":"))


@refusing(gettext_lazy("The stored pinning cannot be read."))
def restore(format_id: str, text: str) -> Pinning:
    """The pins as `dump` wrote them. The seal vouches for their shape: a proof reads thousands in a row."""
    chosen, rows = load_format(format_id), json.loads(text)
    try:
        return Pinning(chosen, tuple(PinStack(**row | {"masters": tuple(row["masters"])}) for row in rows))
    except (KeyError, TypeError):
        return pinning.stacks.parse_stacks(chosen, rows)


def _parsed(text: str) -> object:
    try:
        return json.loads(text)
    except ValueError:
        raise Refused(_("These are no pins; enter them anew.")) from None


def _stack_fields(stack: PinStack) -> dict[str, Any]:
    return {
        "position": stack.position,
        "bottom": stack.bottom,
        "masters": list(stack.masters),
        "control": stack.control,
        "top": stack.top,
    }
