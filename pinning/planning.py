"""The forms of `python -m pinning` for designing and proving a system: `count`, `progress`, `audit`."""

from itertools import islice
from typing import Any

from pinning.abiding import keeps
from pinning.audit import Proof, prove
from pinning.bittings import Bitting, parse_any_bitting
from pinning.columns import Pinning
from pinning.errors import Refusal, Refusals, Refused, collect
from pinning.fields import Fields, is_integer
from pinning.formats import EMPTY, CoreFormat
from pinning.incidental import incidental_total
from pinning.inputs import format_of, read_estate
from pinning.methods import METHODS, by_method
from pinning.progression import Progression, progress
from pinning.rules import Rules, count_by_rules

__all__ = ["audit_form", "count_form", "progress_form"]

RULES = ("max_equal", "max_run", "min_distinct", "min_span")
LARGEST_PAGE = 10_000
LAST_PAGE = 10**30
MOST_PAIRS = 2_000_000

Answer = dict[str, Any]


def count_form(source: object) -> Answer:
    refusals = Refusals()
    fields = Fields(source, "input", refusals, ("positions", "depths", "macs", *RULES))
    positions, depths = fields.integer("positions", 1, 64), fields.integer("depths", 1, 64)
    rules = _rules(fields, fields.integer_or_none("macs", 0, 999))
    refusals.stop()
    return {"count": count_by_rules(positions, range(depths), rules)}


def _rules(fields: Fields, macs: int | None = None) -> Rules:
    return Rules(
        macs,
        fields.integer_or_none("max_equal", 1, 999),
        fields.integer_or_none("max_run", 1, 999),
        _integer_or(fields, "min_distinct", 1, 0, 999),
        _integer_or(fields, "min_span", 0, 0, 999),
    )


def _integer_or(fields: Fields, name: str, default: int, low: int, high: int) -> int:
    return fields.integer(name, low, high) if fields.has(name) else default


def progress_form(source: object) -> Answer:
    refusals = Refusals()
    names = ("format", "master", "array", "sequence", "method", "constants", "rules", "page", "size")
    fields = Fields(source, "input", refusals, names)
    format, master = format_of(fields), fields.text("master", 100)
    method = fields.choice("method", METHODS) if fields.has("method") else METHODS[0]
    constants = _integer_or(fields, "constants", 1, 0, 16)
    page, size = (
        _integer_or(fields, "page", 0, 0, LAST_PAGE),
        _integer_or(fields, "size", 64, 1, LARGEST_PAGE),
    )
    base = _progression(fields, format, master)
    keys = collect(refusals, lambda: by_method(base, method, constants)) if base is not None else None
    if base is None or keys is None or len(refusals):
        raise Refused(refusals)
    limits = base.limits
    shown = keys.between(page * size, page * size + size)
    listed = [key.text for key in shown if keeps(limits, key.cuts)]
    return {"total": keys.total, "usable": keys.usable_total, "bittings": listed}


def _progression(fields: Fields, format: CoreFormat | None, master: str) -> Progression | None:
    """The progression asked for; None, with every reason collected, if a part of it is refused."""
    refusals = fields.refusals
    sequence = fields.integers("sequence", 1, 16, 16) if fields.has("sequence") else None
    columns = fields.items("array", 16) if fields.has("array") else None
    rules = _rules(fields.part("rules", RULES)) if fields.has("rules") else None
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
    if key is None or not fields.read("array", "sequence", "rules"):
        return None
    held = key
    return collect(refusals, lambda: progress(format, held, array, sequence, rules))


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
    given = read_estate(source)
    proofs = _proofs(given.cores, given.keys)
    return {
        "operates": [[proof.key, proof.core] for proof in proofs if proof.operates],
        "withdraws": [[proof.key, proof.core] for proof in proofs if proof.withdraws],
        "incidental": incidental_total(given.cores.values(), given.keys.values()),
    }


def _proofs(cores: dict[str, Pinning], keys: dict[str, Bitting]) -> list[Proof[str, str]]:
    """Every pair that does something, by key and then by core in the order given."""
    found = list(islice(prove(cores, keys, MOST_PAIRS), MOST_PAIRS + 1))
    if len(found) > MOST_PAIRS:
        reason = f"More than {MOST_PAIRS:,} pairs of key and core turn; audit fewer at a time."
        raise Refused([Refusal("too_large", reason)])
    order = {key: place for place, key in enumerate(keys)}
    return sorted(found, key=lambda proof: order[proof.key])
