"""Lock charts: which keys shall open which locks, which must not, and which do not matter.

A lock is pinned to exactly the keys of its `opens`. Keys in `may` are let in or not, as it comes; all others
must stay out. Keys with a bitting keep it. Locks keyed alike have the same `opens`; copies of a key are one
key or, without the rule `distinct`, two that may come out alike; a selective master is a key like any other.

>>> from pinning.formats import load
>>> chart = Chart(load("fixed-6"), ("M", "A", "B"), ("1", "2"), ((0, 1), (0, 2)), (frozenset(),) * 2)
>>> chart.must_stay_out(0), chart.pairs_forbidden
([2], 2)
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from math import comb

from pinning.bittings import parse_bitting
from pinning.errors import Refusals, collect
from pinning.fields import Fields
from pinning.figures import CoreFormat
from pinning.rules import Rules
from pinning.wording import said

__all__ = ["LARGEST_CHART", "Chart", "ChartRules", "parse_chart"]

LARGEST_CHART = 20_000  # keys, and locks
MOST_DEPTH_PAIRS = 10_000_000  # of all keys: a search holds one clause for each, about 100 bytes
CONTROL_KEY = said("control key")
RULE_NAMES = ("macs", "max_equal", "max_run", "min_distinct", "min_span")


@dataclass(frozen=True, slots=True)
class ChartRules:
    """`max_cuts` is how many operating cuts a position of one lock may have; a key that must stay out misses
    a lock in `min_differences` positions at least; with `distinct` no two keys come out alike; `keys` binds
    the bittings that are made, on top of the format's own limit.
    """

    max_cuts: int | None = None
    min_differences: int = 1
    distinct: bool = False
    keys: Rules = field(default_factory=Rules)


@dataclass(frozen=True)
class Chart:
    """Keys and locks are numbered in the order given. `fixed` holds the cuts of keys that keep their bitting
    and `control` those of a control key that does, in depth numbers.
    """

    format: CoreFormat
    keys: tuple[str, ...]
    locks: tuple[str, ...]
    opens: tuple[tuple[int, ...], ...]
    may: tuple[frozenset[int], ...]
    fixed: Mapping[int, tuple[int, ...]] = field(default_factory=dict)
    rules: ChartRules = field(default_factory=ChartRules)
    control: tuple[int, ...] | None = field(default=None, repr=False)

    @property
    def has_control(self) -> bool:
        return bool(self.format.sleeve)

    @property
    def macs(self) -> int | None:
        """The tighter of the format's and the shop's limit on adjacent cuts."""
        limits = [limit for limit in (self.format.macs, self.rules.keys.macs) if limit is not None]
        return min(limits, default=None)

    @property
    def pairs_forbidden(self) -> int:
        let_in = sum(len(opens) + len(may) for opens, may in zip(self.opens, self.may, strict=True))
        return len(self.keys) * len(self.locks) - let_in

    def must_stay_out(self, lock: int) -> list[int]:
        let_in = {*self.opens[lock], *self.may[lock]}
        return [key for key in range(len(self.keys)) if key not in let_in]

    def locks_of(self) -> list[list[int]]:
        """Per key, the locks it shall open, in order."""
        found: list[list[int]] = [[] for _ in self.keys]
        for lock, opens in enumerate(self.opens):
            for key in opens:
                found[key].append(lock)
        return found

    def part(self, keys: Sequence[int], locks: Iterable[int]) -> "Chart":
        """The chart of these keys alone; locks that none of them opens, or alike ones, are left out."""
        numbers = {key: number for number, key in enumerate(keys)}
        kept: dict[tuple[tuple[int, ...], frozenset[int]], int] = {}
        for lock in locks:
            opens = tuple(sorted(numbers[key] for key in self.opens[lock] if key in numbers))
            may = frozenset(numbers[key] for key in self.may[lock] if key in numbers)
            if opens:
                kept.setdefault((opens, may), lock)
        return replace(
            self,
            keys=tuple(self.keys[key] for key in keys),
            locks=tuple(self.locks[lock] for lock in kept.values()),
            opens=tuple(opens for opens, _ in kept),
            may=tuple(may for _, may in kept),
            fixed={numbers[key]: cuts for key, cuts in self.fixed.items() if key in numbers},
        )


def parse_chart(format: CoreFormat, fields: Fields) -> Chart | None:
    """The chart in the fields `keys`, `locks`, `rules` and `control`; None, and every reason collected, if it
    is refused (`type`, `value`, `missing`, `unknown_field`, `duplicate`, `unknown_key`, `no_keys`, and the
    codes of a bitting).
    """
    refusals = fields.refusals
    before = len(refusals)
    keys = [
        _key(item, number, refusals) for number, item in enumerate(fields.items("keys", LARGEST_CHART), 1)
    ]
    locks = [
        _lock(item, number, refusals) for number, item in enumerate(fields.items("locks", LARGEST_CHART), 1)
    ]
    rules = _rules(fields)
    control = (
        _bitting(format, fields.text("control", 100), CONTROL_KEY, refusals)
        if fields.has("control")
        else None
    )
    if control is not None and not format.sleeve:
        message = said("This format has no control sleeve; leave the control key out.")
        refusals.add("control_not_used", message)
    _refuse_twice(said("key"), [name for name, _ in keys], refusals)
    _refuse_twice(said("lock"), [name for name, *_ in locks], refusals)
    _refuse_large(format, len(keys), refusals)
    numbers = {name: number for number, (name, _) in enumerate(keys)}
    fixed = {
        numbers[name]: _bitting(format, text, said("key {key}", key=repr(name)), refusals)
        for name, text in keys
        if text is not None
    }
    if len(refusals) > before:
        return None
    opens = [_numbers(name, opens, numbers, refusals) for name, opens, _ in locks]
    may = [_numbers(name, may, numbers, refusals) for name, _, may in locks]
    if len(refusals) > before:
        return None
    return Chart(
        format,
        tuple(numbers),
        tuple(name for name, *_ in locks),
        tuple(map(tuple, opens)),
        tuple(frozenset(also) - set(shall) for also, shall in zip(may, opens, strict=True)),
        {key: cuts for key, cuts in fixed.items() if cuts is not None},
        rules,
        control,
    )


def _key(item: object, number: int, refusals: Refusals) -> tuple[str, str | None]:
    fields = Fields(item, said("key {key}", key=number), refusals, ("id", "bitting"))
    return fields.text("id", 100), fields.text("bitting", 100) if fields.has("bitting") else None


def _lock(item: object, number: int, refusals: Refusals) -> tuple[str, list[str], list[str]]:
    fields = Fields(item, said("lock {lock}", lock=number), refusals, ("id", "opens", "may"))
    name, opens = fields.text("id", 100), _names(fields, "opens")
    if fields.read("opens", "id") and not opens:
        message = said(
            "lock {lock}: no key opens it; name one at least, or leave the lock out.", lock=repr(name)
        )
        refusals.add("no_keys", message)
    return name, opens, _names(fields, "may") if fields.has("may") else []


def _names(fields: Fields, name: str) -> list[str]:
    found = fields.items(name, LARGEST_CHART)
    names = [item for item in found if isinstance(item, str)]
    if len(names) < len(found):
        fields.refuse(name, "type", said("ids of keys are expected; correct the list."))
    return list(dict.fromkeys(names))


def _rules(fields: Fields) -> ChartRules:
    if not fields.has("rules"):
        return ChartRules()
    part = fields.part("rules", ("max_cuts", "min_differences", "distinct", *RULE_NAMES))
    return ChartRules(
        part.integer_or_none("max_cuts", 1, 64),
        part.integer("min_differences", 1, 16) if part.has("min_differences") else 1,
        part.flag("distinct"),
        Rules(
            part.integer_or_none("macs", 0, 999),
            part.integer_or_none("max_equal", 1, 999),
            part.integer_or_none("max_run", 1, 999),
            part.integer("min_distinct", 0, 999) if part.has("min_distinct") else 1,
            part.integer("min_span", 0, 999) if part.has("min_span") else 0,
        ),
    )


def _bitting(format: CoreFormat, text: str, name: str, refusals: Refusals) -> tuple[int, ...] | None:
    key = collect(refusals, lambda: parse_bitting(format, text, name))
    return None if key is None else key.cuts


def _refuse_large(format: CoreFormat, keys: int, refusals: Refusals) -> None:
    room = MOST_DEPTH_PAIRS // max(format.positions * comb(len(format.depths), 2), 1)
    if keys > room:
        refusals.add(
            "too_large",
            said(
                "{keys} keys are more than a search holds for this format; give at most {room}.",
                keys=keys,
                room=room,
            ),
        )


def _refuse_twice(what: str, names: list[str], refusals: Refusals) -> None:
    seen: set[str] = set()
    for name in names:
        if name in seen and name:
            message = said(
                "{what} {name} is named twice; give each an id of its own.", what=what, name=repr(name)
            )
            refusals.add("duplicate", message)
        seen.add(name)


def _numbers(lock: str, names: list[str], numbers: dict[str, int], refusals: Refusals) -> list[int]:
    for name in names:
        if name not in numbers:
            message = said(
                "lock {lock}: {key} is none of the keys; correct it.", lock=repr(lock), key=repr(name[:40])
            )
            refusals.add("unknown_key", message)
    return sorted(numbers[name] for name in names if name in numbers)
