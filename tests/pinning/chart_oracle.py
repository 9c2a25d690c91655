"""A second opinion on lock charts: every bitting of every key is tried, and each core is built and tried by
the mechanics in ``oracle``. Nothing here knows of clauses, layouts or boxes."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import pairwise, product
from typing import Any

from tests.pinning import oracle

Json = dict[str, Any]
Word = tuple[int, ...]


class Workshop:
    """Cores of one format, built once for each set of keys."""

    def __init__(self, format: Json) -> None:
        self.format = format
        self.has_sleeve = bool(oracle.sleeve_of(format))
        self._cores: dict[tuple[frozenset[Word], Word | None], oracle.Core | None] = {}

    def core(self, keys: frozenset[Word], control: Word | None) -> oracle.Core | None:
        made = (keys, control)
        if made not in self._cores:
            self._cores[made] = self._built(sorted(keys), control)
        return self._cores[made]

    def _built(self, keys: list[Word], control: Word | None) -> oracle.Core | None:
        cuts: list[oracle.Key] = [list(key) for key in keys]
        own: oracle.Key | None = None if control is None else list(control)
        if not oracle.stacks_possible(self.format, cuts, own):
            return None
        sleeve = oracle.sleeve_of(self.format)
        places = range(self.format["positions"])
        return oracle.Core(
            self.format,
            [oracle.column_built(self.format, place, cuts, own, sleeve) or {} for place in places],
        )


def is_right(shop: Workshop, chart: Json, words: dict[str, Word], control: Word | None) -> bool:
    """Whether these bittings do what the chart asks, whole or as far as keys have bittings."""
    return _rules_kept(shop, chart, words, control) and all(
        _lock_is_right(shop, chart, lock, words, control) for lock in chart["locks"]
    )


def _lock_is_right(
    shop: Workshop, chart: Json, lock: Json, words: dict[str, Word], control: Word | None
) -> bool:
    if any(key not in words for key in lock["opens"]):
        return True
    core = shop.core(frozenset(words[key] for key in lock["opens"]), control)
    if core is None or (control is not None and core.what_turns(control)[:2] != (False, True)):
        return False
    let_in = {*lock["opens"], *lock.get("may", [])}
    least = (chart.get("rules") or {}).get("min_differences", 1)
    for key, word in words.items():
        operates, withdraws, _ = core.what_turns(word)
        missed = sum(cut not in clear for cut, clear in zip(word, core.at_plug, strict=True))
        if withdraws or (key in lock["opens"] and not operates) or (key not in let_in and missed < least):
            return False
    # The control key must miss every lock by as much as any other key that stays out.
    missed = sum(cut not in clear for cut, clear in zip(control or (), core.at_plug, strict=False))
    return control is None or missed >= least


def _rules_kept(shop: Workshop, chart: Json, words: dict[str, Word], control: Word | None) -> bool:
    rules = chart.get("rules") or {}
    fixed = {key["id"] for key in chart["keys"] if key.get("bitting")}
    if rules.get("distinct") and len(set(words.values())) < len(words):
        return False
    return all(key in fixed or keeps(word, rules) for key, word in words.items())


def keeps(word: Word, rules: Json) -> bool:
    longest = run = 1
    for one, two in pairwise(word):
        run = run + 1 if one == two else 1
        longest = max(longest, run)
    jumps = [abs(one - two) for one, two in pairwise(word)]
    return bool(
        max(jumps, default=0) <= rules.get("macs", 99)
        and max(word.count(cut) for cut in word) <= rules.get("max_equal", 99)
        and longest <= rules.get("max_run", 99)
        and len(set(word)) >= rules.get("min_distinct", 1)
        and max(word) - min(word) >= rules.get("min_span", 0)
    )


def few_enough(chart: Json, words: dict[str, Word]) -> bool:
    most = (chart.get("rules") or {}).get("max_cuts", 99)
    for lock in chart["locks"]:
        held = [words[key] for key in lock["opens"] if key in words]
        if any(len(set(column)) > most for column in zip(*held, strict=True)):
            return False
    return True


def possible(shop: Workshop, chart: Json) -> bool:
    """Whether any bittings at all do what the chart asks."""
    format = shop.format
    every = [tuple(word) for word in product(format["depth_values"], repeat=format["positions"])]
    cuttable = [word for word in every if _within(format["macs"], word)]
    controls: list[Word | None] = [None]
    if shop.has_sleeve:
        given = chart.get("control")
        controls = [read(format, given)] if given else list(cuttable)
    return any(_complete(shop, chart, {}, control, cuttable) for control in controls)


def _complete(
    shop: Workshop, chart: Json, words: dict[str, Word], control: Word | None, every: list[Word]
) -> bool:
    if not (few_enough(chart, words) and is_right(shop, chart, words, control)):
        return False
    left = [key for key in chart["keys"] if key["id"] not in words]
    if not left:
        return True
    key = left[0]
    choices = [read(shop.format, key["bitting"])] if key.get("bitting") else every
    return any(_complete(shop, chart, {**words, key["id"]: word}, control, every) for word in choices)


def _within(macs: int | None, word: Word) -> bool:
    return macs is None or all(abs(one - two) <= macs for one, two in pairwise(word))


def read(format: Json, text: str) -> Word:
    return tuple(format["depth_values"][format["depths"].index(symbol)] for symbol in text)


def forbidden(chart: Json) -> Iterator[tuple[str, str]]:
    for lock in chart["locks"]:
        for key in chart["keys"]:
            if key["id"] not in {*lock["opens"], *lock.get("may", [])}:
                yield key["id"], lock["id"]
