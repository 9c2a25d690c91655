"""The forms of `python -m pinning` for designing and proving a system: `count`, `progress`, `audit`."""

from itertools import islice
from typing import Any

from pinning.audit import Proof, prove
from pinning.bittings import Bitting, parse_any_bitting
from pinning.columns import Pinning, parse_stacks
from pinning.errors import Refusal, Refusals, Refused
from pinning.fields import Fields, is_integer
from pinning.formats import EMPTY, CoreFormat
from pinning.incidental import incidental_total
from pinning.inputs import collect, format_of, told_apart
from pinning.progression import Progression, is_within_limit, progress
from pinning.rotating import rotate
from pinning.rules import Rules, count_by_rules
from pinning.stacks import pin

__all__ = ["audit_form", "count_form", "progress_form"]

METHODS = ("total", "rotating")
LARGEST_PAGE = 10_000
LAST_PAGE = 10**30
MOST_PAIRS = 2_000_000
MOST_ENTRIES = 100_000

Answer = dict[str, Any]


def count_form(source: object) -> Answer:
    refusals = Refusals()
    names = ("positions", "depths", "macs", "max_equal", "max_run", "min_distinct", "min_span")
    fields = Fields(source, "input", refusals, names)
    positions, depths = fields.integer("positions", 1, 64), fields.integer("depths", 1, 64)
    rules = Rules(
        fields.integer_or_none("macs", 0, 999),
        fields.integer_or_none("max_equal", 1, 999),
        fields.integer_or_none("max_run", 1, 999),
        _integer_or(fields, "min_distinct", 1, 0, 999),
        _integer_or(fields, "min_span", 0, 0, 999),
    )
    refusals.stop()
    return {"count": count_by_rules(positions, range(depths), rules)}


def _integer_or(fields: Fields, name: str, default: int, low: int, high: int) -> int:
    return fields.integer(name, low, high) if fields.has(name) else default


def progress_form(source: object) -> Answer:
    refusals = Refusals()
    names = ("format", "master", "array", "sequence", "method", "constants", "page", "size")
    fields = Fields(source, "input", refusals, names)
    format, master = format_of(fields), fields.text("master", 100)
    method = fields.choice("method", METHODS) if fields.has("method") else METHODS[0]
    constants = _integer_or(fields, "constants", 1, 0, 16)
    page, size = (
        _integer_or(fields, "page", 0, 0, LAST_PAGE),
        _integer_or(fields, "size", 64, 1, LARGEST_PAGE),
    )
    base = _progression(fields, format, master)
    keys = collect(refusals, lambda: rotate(base, constants)) if base and method == "rotating" else base
    if format is None or keys is None or len(refusals):
        raise Refused(refusals)
    shown = keys.between(page * size, page * size + size)
    listed = [key.text for key in shown if is_within_limit(format, key.cuts)]
    return {"total": keys.total, "usable": keys.usable_total, "bittings": listed}


def _progression(fields: Fields, format: CoreFormat | None, master: str) -> Progression | None:
    """The progression asked for; None, with every reason collected, if a part of it is refused."""
    refusals = fields.refusals
    sequence = fields.integers("sequence", 1, 16, 16) if fields.has("sequence") else None
    columns = fields.items("array", 16) if fields.has("array") else None
    if format is None:
        return None
    array = (
        None
        if columns is None
        else [_column(fields, format, place, column) for place, column in enumerate(columns, 1)]
    )
    key = None
    if fields.read("master"):
        key = collect(refusals, lambda: parse_any_bitting(format, master, "master"))
    if key is None or not fields.read("array", "sequence"):
        return None
    held = key
    return collect(refusals, lambda: progress(format, held, array, sequence))


def _column(fields: Fields, format: CoreFormat, position: int, column: object) -> list[int]:
    """One position's cuts in the array, from depth symbols."""
    if not isinstance(column, list):
        fields.refuse("array", "type", f"position {position}: a list of depths is expected.", position)
        return []
    texts = [symbol if isinstance(symbol, str) and len(symbol) == 1 else EMPTY for symbol in column]
    cuts = [format.number_of(text) for text in texts]
    if None in cuts:
        reason = f"position {position}: each cut is one of the depths {format.depths}, as a text."
        fields.refuse("array", "depth", reason, position)
    return [cut for cut in cuts if is_integer(cut)]


def audit_form(source: object) -> Answer:
    refusals = Refusals()
    fields = Fields(source, "input", refusals, ("format", "keys", "cores"))
    format = format_of(fields)
    keys, cores = _entries(fields, "keys"), _entries(fields, "cores")
    if format is None:
        raise Refused(refusals)
    bittings = {name: _key(format, name, text, refusals) for name, text in keys.items()}
    pinnings = {name: _core(format, name, core, refusals) for name, core in cores.items()}
    known = {name: key for name, key in bittings.items() if key is not None}
    pinned = {name: core for name, core in pinnings.items() if core is not None}
    if len(refusals):
        raise Refused(refusals)
    proofs = _proofs(pinned, known)
    return {
        "operates": [[proof.key, proof.core] for proof in proofs if proof.operates],
        "withdraws": [[proof.key, proof.core] for proof in proofs if proof.withdraws],
        "incidental": incidental_total(pinned.values(), known.values()),
    }


def _proofs(cores: dict[str, Pinning], keys: dict[str, Bitting]) -> list[Proof[str, str]]:
    """Every pair that does something, by key and then by core in the order given."""
    found = list(islice(prove(cores, keys), MOST_PAIRS + 1))
    if len(found) > MOST_PAIRS:
        reason = f"More than {MOST_PAIRS:,} pairs of key and core turn; audit fewer at a time."
        raise Refused([Refusal("too_large", reason)])
    order = {key: place for place, key in enumerate(keys)}
    return sorted(found, key=lambda proof: order[proof.key])


def _entries(fields: Fields, name: str) -> dict[str, object]:
    """An object whose fields are names that the asker gave."""
    value = fields.value(name)
    if not isinstance(value, dict):
        if fields.read(name):
            fields.refuse(name, "type", "an object is expected, with one field for each.")
        return {}
    if len(value) > MOST_ENTRIES or not all(0 < len(key) <= 100 and key.isprintable() for key in value):
        reason = f"at most {MOST_ENTRIES:,} names of 1 to 100 printable characters are expected."
        fields.refuse(name, "value", reason)
        return {}
    return value


def _key(format: CoreFormat, name: str, text: object, refusals: Refusals) -> Bitting | None:
    if not isinstance(text, str):
        refusals.add("type", f"key {name!r}: a text of cuts is expected; correct it.")
        return None
    return collect(refusals, lambda: parse_any_bitting(format, text, f"key {name!r}"))


def _core(format: CoreFormat, name: str, source: object, refusals: Refusals) -> Pinning | None:
    """A core from its keys or its pins; what is wrong with it says which core it is."""
    place = f"core {name!r}"
    fields = Fields(source, place, refusals, ("operating", "control", "stacks"))
    if not fields.read("operating"):
        return None
    if not fields.has("stacks"):
        return _pinned(format, fields)
    if fields.has("operating") or fields.has("control"):
        fields.refuse("stacks", "value", "keys are given too; give either the keys or the pins.")
        return None
    return told_apart(refusals, place, lambda: parse_stacks(format, fields.value("stacks")))


def _pinned(format: CoreFormat, fields: Fields) -> Pinning | None:
    operating = [text for text in fields.items("operating", MOST_ENTRIES) if isinstance(text, str)]
    control = fields.text("control", 100) if fields.has("control") else None
    if fields.read("operating") and len(operating) < len(fields.items("operating", MOST_ENTRIES)):
        fields.refuse("operating", "type", "texts of cuts are expected; correct the list.")
    if not fields.read("operating", "control"):
        return None
    return told_apart(fields.refusals, fields.place, lambda: pin(format, operating, control))
