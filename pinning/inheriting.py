"""The form `reconstruct` of `python -m pinning`: an inherited system from decoded cores and keys."""

from collections.abc import Mapping
from typing import Any

from pinning.advice import OpenCore, advise
from pinning.bittings import Bitting, parse_any_bitting
from pinning.errors import Refusals, Refused, collect
from pinning.evidence import CircularKey, Column, SeenCore, seen_reading
from pinning.fields import Fields
from pinning.formats import CoreFormat
from pinning.inference import Candidate, ControlFound, Reconstruction, reconstruct
from pinning.inputs import format_of, told_apart
from pinning.levels import Levels, find_levels
from pinning.reading import read_stacks

__all__ = ["reconstruct_form"]

MOST_CORES = 2_000
MOST_KEYS = 2_000
CORE_FIELDS = ("operating", "control", "stacks", "change", "group")

Answer = dict[str, Any]


def reconstruct_form(source: object) -> Answer:
    refusals = Refusals()
    fields = Fields(source, "input", refusals, ("format", "cores", "keys", "open"))
    format = format_of(fields)
    cores = _entries(fields, "cores", MOST_CORES)
    keys = _entries(fields, "keys", MOST_KEYS) if fields.has("keys") else {}
    open_cores = [_open(item, n, refusals) for n, item in _numbered(fields)]
    if format is None:
        raise Refused(refusals)
    seen = [_core(format, name, core, refusals) for name, core in cores.items()]
    known = [_key(format, name, text, refusals) for name, text in keys.items()]
    refusals.stop()
    found = reconstruct(
        format, [core for core in seen if core is not None], [key for key in known if key is not None]
    )
    return _answer(found, open_cores)


def _entries(fields: Fields, name: str, most: int) -> Mapping[str, object]:
    """An object whose fields are names that the asker gave."""
    value = fields.value(name)
    if not isinstance(value, dict):
        if fields.read(name):
            fields.refuse(name, "type", "an object is expected, with one field for each.")
        return {}
    if len(value) > most or not all(0 < len(key) <= 100 and key.isprintable() for key in value):
        reason = f"at most {most:,} names of 1 to 100 printable characters are expected."
        fields.refuse(name, "value", reason)
        return {}
    return value


def _numbered(fields: Fields) -> list[tuple[int, object]]:
    return list(enumerate(fields.items("open", MOST_CORES), 1)) if fields.has("open") else []


def _open(item: object, number: int, refusals: Refusals) -> OpenCore:
    """A label, or an object with the label and the group of a core that is not decoded."""
    given = {"label": item} if isinstance(item, str) else item
    fields = Fields(given, f"open core {number}", refusals, ("label", "group"))
    return OpenCore(fields.text("label", 100), fields.text("group", 100) if fields.has("group") else None)


def _key(format: CoreFormat, name: str, text: object, refusals: Refusals) -> CircularKey | None:
    if not isinstance(text, str):
        refusals.add("type", f"key {name!r}: a text of cuts is expected; correct it.")
        return None
    bitting = collect(refusals, lambda: parse_any_bitting(format, text, f"key {name!r}"))
    return None if bitting is None else CircularKey(name, bitting)


def _core(format: CoreFormat, name: str, source: object, refusals: Refusals) -> SeenCore | None:
    place = f"core {name!r}"
    fields = Fields(source, place, refusals, CORE_FIELDS)
    if not fields.read("operating"):
        return None
    group = fields.text("group", 100) if fields.has("group") else None
    change = _bitting(format, fields, "change")
    if not fields.has("stacks"):
        return SeenCore(name, _columns(format, fields), _control(format, fields), change, group)
    if fields.has("operating") or fields.has("control"):
        fields.refuse("stacks", "value", "cuts are given too; give either the cuts or the pins.")
        return None
    reading = told_apart(refusals, place, lambda: read_stacks(format, fields.value("stacks")))
    if reading is None:
        return None
    seen = seen_reading(name, reading, group)
    return SeenCore(name, seen.columns, seen.control, change, group)


def _bitting(format: CoreFormat, fields: Fields, name: str) -> Bitting | None:
    text = fields.text(name, 100) if fields.has(name) else ""
    if not text:
        return None
    return told_apart(fields.refusals, fields.place, lambda: parse_any_bitting(format, text, name))


def _columns(format: CoreFormat, fields: Fields) -> tuple[Column, ...]:
    columns = fields.items("operating", 16)
    if fields.read("operating") and len(columns) != format.positions:
        reason = f"{len(columns)} positions are given; give {format.positions}."
        fields.refuse("operating", "length", reason)
    return tuple(_column(format, fields, place, column) for place, column in enumerate(columns, 1))


def _column(format: CoreFormat, fields: Fields, position: int, column: object) -> Column:
    """The cuts of one position, from depth symbols."""
    symbols = column if isinstance(column, list) else []
    cuts = {format.number_of(symbol) if _is_symbol(symbol) else None for symbol in symbols}
    if not cuts or None in cuts:
        reason = f"position {position}: a list of depths out of {format.depths} is expected, each as a text."
        fields.refuse("operating", "depth", reason, position)
    return (frozenset(cut for cut in cuts if cut is not None),)


def _is_symbol(symbol: object) -> bool:
    return isinstance(symbol, str) and len(symbol) == 1


def _control(format: CoreFormat, fields: Fields) -> tuple[int | None, ...] | None:
    """The control cuts under the sleeve. Elsewhere a control key carries an operating cut: no news."""
    control = _bitting(format, fields, "control")
    if control is not None and not format.sleeve:
        fields.refuse("control", "control_not_used", "this format has no control sleeve; leave it out.")
    if control is None or not format.sleeve:
        return None
    return tuple(cut if place in format.sleeve else None for place, cut in enumerate(control.cuts, 1))


def _answer(found: Reconstruction, open_cores: list[OpenCore]) -> Answer:
    format = found.format
    return {
        "candidates": [_candidate(format, candidate) for candidate in found.candidates],
        "considered": len(found.shares),
        "complete": found.is_complete,
        "open_bits": round(found.entropy_bits, 3),
        **_leveled(find_levels(found)),
        "array": [
            {
                "position": position,
                "master": format.symbol_of(column.master),
                "seen": _symbols(format, column.seen),
                "unseen": _symbols(format, column.unseen),
                "off_step": _symbols(format, column.off_step),
            }
            for position, column in enumerate(found.array, 1)
        ],
        "control": _controlled(format, found.control),
        "outliers": [
            {"core": odd.core, "reason": odd.reason, "positions": list(odd.positions), "message": odd.message}
            for odd in found.odd
        ],
        "keys": [{"key": name, "turns": list(turned), "is": what} for name, turned, what in found.key_parts],
        "next": [
            {
                "kind": each.kind,
                "label": each.label or None,
                "gain_bits": round(each.gain_bits, 3),
                "positions": list(each.positions),
                "message": each.message,
            }
            for each in advise(found, open_cores)
        ],
    }


def _symbols(format: CoreFormat, cuts: tuple[int, ...]) -> list[str]:
    return [format.symbol_of(cut) for cut in cuts]


def _candidate(format: CoreFormat, candidate: Candidate) -> Answer:
    return {
        "bitting": candidate.bitting.text,
        "share": round(candidate.share, 4),
        "turns": len(candidate.turns),
        "fails": list(candidate.fails),
        "positions": [
            [
                {"cut": format.symbol_of(each.cut), "cores": each.cores, "share": round(each.share, 4)}
                for each in supports
            ]
            for supports in candidate.positions
        ],
    }


def _leveled(found: Levels) -> Answer:
    return {
        "levels": {
            "shared": list(found.shared),
            "alike": list(found.alike),
            "below": [
                {"positions": list(level.positions), "told_by": level.told_by} for level in found.levels
            ],
        },
        "masters": [
            {
                "bitting": master.bitting.text,
                "positions": list(master.positions),
                "cores": list(master.members),
                "told_by": master.told_by,
                "name": master.name or None,
                "above": master.above,
            }
            for master in found.masters
        ],
    }


def _controlled(format: CoreFormat, control: ControlFound | None) -> Answer | None:
    if control is None:
        return None
    return {
        "bitting": None if control.bitting is None else control.bitting.text,
        "positions": [
            [{"cut": format.symbol_of(cut), "cores": count} for cut, count in column]
            for column in control.positions
        ],
        "against": list(control.against),
    }
