"""A format's parameters in words, with every length in the units of the reader."""

from collections.abc import Iterator
from dataclasses import dataclass

from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy, ngettext, pgettext

from keyctl.engine import CoreFormat, control_label
from keyctl.formats.models import KeywayFit
from keyctl.formats.sizes import sizes_text
from keyctl.lib import lengths
from keyctl.places.constructions import construction_words

ROLES = {
    "bottom": gettext_lazy("Bottom pins"),
    "master": gettext_lazy("Master pins"),
    "control": gettext_lazy("Control pins"),
    "top": gettext_lazy("Top pins"),
}

ORDERS = {"tip-bow": gettext_lazy("from tip to bow"), "bow-tip": gettext_lazy("from bow to tip")}
# Where the first cut is measured from.
FIRST_CUTS = {
    "tip-bow": gettext_lazy("First cut {first} from the tip, then every {spacing}; plug diameter {plug}"),
    "bow-tip": gettext_lazy(
        "First cut {first} from the shoulder, then every {spacing}; plug diameter {plug}"
    ),
}
NUMBERINGS = {"absolute": gettext_lazy("by size"), "relative": gettext_lazy("relative to the sleeve: +1, -2")}
CONTROLS = {
    "none": gettext_lazy("Nothing, it is a fixed cylinder"),
    "sleeve": gettext_lazy("A control key that turns a sleeve"),
    "tip": gettext_lazy("A control key with a longer tip"),
    "screw": gettext_lazy("A screw, once the lock is open"),
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


def facts_of(format: CoreFormat) -> list[Fact]:
    return [Fact(term, words) for term, words in _facts(format)]


def _facts(format: CoreFormat) -> Iterator[tuple[str, str]]:
    increment, lowest = lengths.length(format.increment_in), lengths.length(format.base_pin_in)
    yield _("Construction"), construction_words(format.construction)
    yield (
        _("Positions"),
        _("{positions}, read {order}").format(positions=format.positions, order=ORDERS[format.order]),
    )
    yield _("Depths"), _depths(format)
    yield _("Increment"), _("{increment} from one depth to the next").format(increment=increment)
    yield _("Lowest bottom pin"), _("{length}, for the shallowest cut").format(length=lowest)
    yield _("Progression step"), _step(format.step)
    yield _("Adjacent cuts"), _adjacent(format.macs)
    yield _("Taken out by"), control_words(format)
    yield _("Stack total"), _totals(format)
    yield pgettext("what is told of a format", "Key"), _key(format)


def has_own_count(format: CoreFormat) -> bool:
    """Whether the depths count otherwise than 0, 1, 2 and so on."""
    return format.depth_values != tuple(range(len(format.depths)))


def _depths(format: CoreFormat) -> str:
    if not has_own_count(format):
        return _("{depths}, from shallow to deep").format(depths=format.depths)
    return _("{depths}, from shallow to deep; they count {counts}").format(
        depths=format.depths, counts=sizes_text(format.depth_values)
    )


def _step(step: int) -> str:
    if step == 1:
        return _("1: any operating cuts may stand in one position")
    return _("{step}: the operating cuts of one position are a multiple of {step} apart").format(step=step)


def _adjacent(macs: int | None) -> str:
    return _("no limit") if macs is None else _("differ by {macs} at most").format(macs=macs)


def control_words(format: CoreFormat) -> str:
    control = format.control
    if control is None:
        return str(CONTROLS["none"])
    if control.kind == "tip":
        return _(
            "A longer tip on the blank: any working operating bitting on a control blank takes the core out"
        )
    if control.kind == "screw":
        return _("A screw: the open lock gives access to it, so an operating key comes first")
    return ngettext(
        "A control key that turns the sleeve over {positions}. The control line lies {count} increment, "
        "{addition}, above the operating line. Control pins are numbered {numbering}",
        "A control key that turns the sleeve over {positions}. The control line lies {count} increments, "
        "{addition}, above the operating line. Control pins are numbered {numbering}",
        control.addition,
    ).format(
        positions=positions_words(control.positions),
        count=control.addition,
        addition=lengths.length(control.addition * format.increment_in),
        numbering=NUMBERINGS[control.numbering],
    )


def short_control(format: CoreFormat) -> str:
    if format.sleeve:
        return _("Sleeve over {positions}").format(positions=sizes_text(format.sleeve))
    kind = format.control.kind if format.control else ""
    words = {"tip": _("Longer tip"), "screw": _("Screw")}
    return words.get(kind, pgettext("nothing takes the core out", "None"))


def positions_words(positions: tuple[int, ...]) -> str:
    return ngettext("position {positions}", "positions {positions}", len(positions)).format(
        positions=sizes_text(positions)
    )


def _totals(format: CoreFormat) -> str:
    parts = []
    if format.sleeve:
        parts.append(_("{total} under the sleeve").format(total=format.total.sleeve))
    if len(format.sleeve) < format.positions:
        plain = _("by the driver table") if format.drivers else str(format.total.plain)
        parts.append(_("{total} elsewhere").format(total=plain) if format.sleeve else plain)
    return ", ".join(parts)


def driver_rows(format: CoreFormat) -> list[Fact]:
    return [Fact(sizes_text(range(row.low, row.high + 1)), str(row.pin)) for row in format.drivers or ()]


def kit_of(format: CoreFormat) -> list[KitRow]:
    return [_kit_row(format, role) for role in ROLES if format.pins.sizes(role)]


def _kit_row(format: CoreFormat, role: str) -> KitRow:
    sizes = format.pins.sizes(role)
    return KitRow(
        str(ROLES[role]),
        sizes_text(sizes) + _labels(format, role),
        _lengths(format, role, sizes[0], sizes[-1]),
    )


def _labels(format: CoreFormat, role: str) -> str:
    """How the shop writes them, where that is not the size."""
    if role != "control" or format.control is None or format.control.numbering == "absolute":
        return ""
    sizes = format.pins.control
    return _(", written {smallest} to {largest}").format(
        smallest=control_label(format, sizes[0]), largest=control_label(format, sizes[-1])
    )


def _lengths(format: CoreFormat, role: str, smallest: int, largest: int) -> str:
    """Only a bottom pin has the lowest pin's length in it; a driver from a table is a kit number."""
    if role == "top" and format.drivers is not None:
        return _("kit numbers outside the sleeve") if format.sleeve else _("kit numbers, not lengths")
    measure = format.length_in if role == "bottom" else lambda size: size * format.increment_in
    shortest, longest = lengths.length(measure(smallest)), lengths.length(measure(largest))
    if smallest == largest:
        return shortest
    return _("{shortest} to {longest}").format(shortest=shortest, longest=longest)


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
    return Depth(symbol, number, lengths.length(length), lengths.length(plug - length) if plug else "")


def _key(format: CoreFormat) -> str:
    first, spacing, plug = format.first_cut_in, format.spacing_in, format.plug_diameter_in
    if first is None or spacing is None or plug is None:
        return _("Not all figures are known, so no key can be drawn")
    return str(FIRST_CUTS[format.order]).format(
        first=lengths.length(first), spacing=lengths.length(spacing), plug=lengths.length(plug)
    )


def fit_added(fit: KeywayFit) -> str:
    said = _("{blank_keyway} enters {core_keyway} from now on.").format(
        blank_keyway=fit.blank_keyway, core_keyway=fit.core_keyway
    )
    if fit.tried_at is None:
        return _(
            "{said} There are too many cores to try at once: prove the estate to try the keys on them."
        ).format(said=said)
    return _("{said} The keys that it lets in have been tried on the cores.").format(said=said)
