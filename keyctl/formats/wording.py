"""A format's parameters in words, with every length in inches and in millimetres."""

from collections.abc import Iterator
from dataclasses import dataclass

from keyctl.engine import CoreFormat, control_label
from keyctl.formats.lengths import in_both_units
from keyctl.formats.models import KeywayFit
from keyctl.formats.sizes import sizes_text

ROLES = ("bottom", "master", "control", "top")

CONSTRUCTIONS = {
    "small-format": "Small-format core",
    "large-format": "Large-format core",
    "full-size": "Full-size core",
    "padlock": "Padlock core",
    "ordinary": "Ordinary cylinder",
}
ORDERS = {"tip-bow": "from tip to bow", "bow-tip": "from bow to tip"}
# Where the first cut is measured from.
REFERENCES = {"tip-bow": "tip", "bow-tip": "shoulder"}
NUMBERINGS = {"absolute": "by size", "relative": "relative to the sleeve: +1, -2"}
CONTROLS = {
    "none": "Nothing, it is a fixed cylinder",
    "sleeve": "A control key that turns a sleeve",
    "tip": "A control key with a longer tip",
    "screw": "A screw, once the lock is open",
}


@dataclass(frozen=True)
class Fact:
    term: str
    words: str


@dataclass(frozen=True)
class KitRow:
    """The sizes of one role, and what they measure."""

    role: str
    sizes: str
    lengths: str


def construction_words(construction: str) -> str:
    return CONSTRUCTIONS.get(construction, construction.replace("-", " ").capitalize())


def facts_of(format: CoreFormat) -> list[Fact]:
    return [Fact(term, words) for term, words in _facts(format)]


def _facts(format: CoreFormat) -> Iterator[tuple[str, str]]:
    yield "Construction", construction_words(format.construction)
    yield "Positions", f"{format.positions}, read {ORDERS[format.order]}"
    yield "Depths", _depths(format)
    yield "Increment", f"{in_both_units(format.increment_in)} from one depth to the next"
    yield "Lowest bottom pin", f"{in_both_units(format.base_pin_in)}, for the shallowest cut"
    yield "Progression step", _step(format.step)
    yield "Adjacent cuts", "no limit" if format.macs is None else f"differ by {format.macs} at most"
    yield "Taken out by", control_words(format)
    yield "Stack total", _totals(format)
    yield "Key", _key(format)


def has_own_count(format: CoreFormat) -> bool:
    """Whether the depths count otherwise than 0, 1, 2 and so on."""
    return format.depth_values != tuple(range(len(format.depths)))


def _depths(format: CoreFormat) -> str:
    counted = f"; they count {sizes_text(format.depth_values)}" if has_own_count(format) else ""
    return f"{format.depths}, from shallow to deep{counted}"


def _step(step: int) -> str:
    if step == 1:
        return "1: any operating cuts may stand in one position"
    return f"{step}: the operating cuts of one position are a multiple of {step} apart"


def control_words(format: CoreFormat) -> str:
    control = format.control
    if control is None:
        return CONTROLS["none"]
    if control.kind == "tip":
        return (
            "A longer tip on the blank: any working operating bitting on a control blank takes the core out"
        )
    if control.kind == "screw":
        return "A screw: the open lock gives access to it, so an operating key comes first"
    return (
        f"A control key that turns the sleeve over {positions_words(control.positions)}. The control line "
        f"lies {control.addition} increments, {in_both_units(control.addition * format.increment_in)}, above "
        f"the operating line. Control pins are numbered {NUMBERINGS[control.numbering]}"
    )


def short_control(format: CoreFormat) -> str:
    if format.sleeve:
        return f"Sleeve over {sizes_text(format.sleeve)}"
    return {"tip": "Longer tip", "screw": "Screw"}.get(format.control.kind if format.control else "", "None")


def positions_words(positions: tuple[int, ...]) -> str:
    noun = "position" if len(positions) == 1 else "positions"
    return f"{noun} {sizes_text(positions)}"


def _totals(format: CoreFormat) -> str:
    parts = []
    if format.sleeve:
        parts.append(f"{format.total.sleeve} under the sleeve")
    if len(format.sleeve) < format.positions:
        plain = "by the driver table" if format.drivers else str(format.total.plain)
        parts.append(f"{plain} elsewhere" if format.sleeve else plain)
    return ", ".join(parts)


def driver_rows(format: CoreFormat) -> list[Fact]:
    return [Fact(sizes_text(range(row.low, row.high + 1)), str(row.pin)) for row in format.drivers or ()]


def kit_of(format: CoreFormat) -> list[KitRow]:
    return [_kit_row(format, role) for role in ROLES if format.pins.sizes(role)]


def _kit_row(format: CoreFormat, role: str) -> KitRow:
    sizes = format.pins.sizes(role)
    return KitRow(
        role, sizes_text(sizes) + _labels(format, role), _lengths(format, role, sizes[0], sizes[-1])
    )


def _labels(format: CoreFormat, role: str) -> str:
    """How the shop writes them, where that is not the size."""
    if role != "control" or format.control is None or format.control.numbering == "absolute":
        return ""
    sizes = format.pins.control
    return f", written {control_label(format, sizes[0])} to {control_label(format, sizes[-1])}"


def _lengths(format: CoreFormat, role: str, smallest: int, largest: int) -> str:
    """Only a bottom pin has the lowest pin's length in it; a driver from a table is a kit number."""
    if role == "top" and format.drivers is not None:
        return "kit numbers, not lengths" if not format.sleeve else "kit numbers outside the sleeve"
    measure = format.length_in if role == "bottom" else lambda size: size * format.increment_in
    shortest, longest = in_both_units(measure(smallest)), in_both_units(measure(largest))
    return shortest if smallest == largest else f"{shortest} to {longest}"


@dataclass(frozen=True)
class Depth:
    """One depth of cut: the bottom pin that fills it, and what is left of the key below it."""

    symbol: str
    number: int
    bottom_pin: str
    root: str


def depths_of(format: CoreFormat) -> list[Depth]:
    return [_depth(format, symbol, format.number_of(symbol) or 0) for symbol in format.depths]


def _depth(format: CoreFormat, symbol: str, number: int) -> Depth:
    length = format.length_in(number)
    plug = format.plug_diameter_in
    return Depth(symbol, number, in_both_units(length), in_both_units(plug - length) if plug else "")


def _key(format: CoreFormat) -> str:
    first, spacing, plug = format.first_cut_in, format.spacing_in, format.plug_diameter_in
    if first is None or spacing is None or plug is None:
        return "Not all figures are known, so no key can be drawn"
    return (
        f"First cut {in_both_units(first)} from the {REFERENCES[format.order]}, then every "
        f"{in_both_units(spacing)}; plug diameter {in_both_units(plug)}"
    )


def fit_added(fit: KeywayFit) -> str:
    said = f"{fit.blank_keyway} enters {fit.core_keyway} from now on."
    if fit.tried_at is None:
        return f"{said} There are too many cores to try at once: prove the estate to try the keys on them."
    return f"{said} The keys that it lets in have been tried on the cores."
