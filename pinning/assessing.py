"""The form `exposure` of `python -m pinning`: what the pins of each core let in, and which keys nearly do."""

from itertools import islice
from typing import Any

from pinning.audit import KeyIndex
from pinning.bittings import Bitting, parse_any_bitting
from pinning.columns import Pinning
from pinning.errors import Refusal, Refused
from pinning.exposure import Leaner, expose, without_each
from pinning.fields import Fields
from pinning.incidental import incidental_total, withdrawing_total
from pinning.inputs import GivenEstate, read_estate
from pinning.nearness import NearMiss, near_misses
from pinning.shear import operating_cuts

__all__ = ["exposure_form"]

MOST_MISSES = 200_000
MOST_WORN = 16

Answer = dict[str, Any]


def exposure_form(source: object) -> Answer:
    worn = 1

    def read_worn(fields: Fields) -> None:
        nonlocal worn
        worn = fields.integer("worn", 1, MOST_WORN) if fields.has("worn") else 1

    given = read_estate(source, read_worn, "worn")
    misses = list(islice(near_misses(given.cores, given.keys, worn=worn), MOST_MISSES + 1))
    if len(misses) > MOST_MISSES:
        reason = f"More than {MOST_MISSES:,} near misses are found; ask for fewer cores or keys at a time."
        raise Refused([Refusal("too_large", reason)])
    cores, keys = given.cores.values(), given.keys.values()
    return {
        "cores": _cores(given),
        "near": [_miss(miss) for miss in misses],
        "incidental": incidental_total(cores, keys),
        "withdrawing": withdrawing_total(cores, keys),
    }


def _cores(given: GivenEstate) -> dict[str, Answer]:
    index = KeyIndex(given.keys)
    return {name: _core(given, name, core, index) for name, core in given.cores.items()}


def _core(given: GivenEstate, name: str, core: Pinning, index: KeyIndex[str]) -> Answer:
    """A core given by its pins was meant for those of the keys that turn it, as far as anybody can say."""
    texts = dict.fromkeys(given.operating[name])
    meant = {text: _filled(given, core, text) for text in texts} or _turning(given, core, index)
    found = expose(core, meant.values())
    without = without_each(core, {text: [key] for text, key in meant.items()})
    figures = ("accepts", "legal", "unplanned", "withdrawing", "wafers", "idle_wafers", "trials", "blanks")
    return {figure: getattr(found, figure) for figure in figures} | {
        "without": [_leaner(text, leaner) for text, leaner in without.items()]
    }


def _filled(given: GivenEstate, core: Pinning, text: str) -> Bitting:
    """The operating key as it is cut: where no pins stand, any depth will do, and the first is taken."""
    cuts = zip(text, core.stacks, strict=True)
    return parse_any_bitting(
        given.format, "".join(given.format.depths[0] if stack.is_empty else cut for cut, stack in cuts)
    )


def _turning(given: GivenEstate, core: Pinning, index: KeyIndex[str]) -> dict[str, Bitting]:
    bits = index.matching(operating_cuts(core))
    return {name: given.keys[name] for place, name in enumerate(index.ids) if bits >> place & 1}


def _leaner(name: str, leaner: Leaner) -> Answer:
    return {"key": name, "accepts": leaner.accepts, "wafers": leaner.wafers}


def _miss(miss: NearMiss[str, str]) -> Answer:
    return {
        "key": miss.key,
        "core": miss.core,
        "line": miss.line,
        "by_wear": miss.by_wear,
        "differences": [{"position": place, "deeper": deeper} for place, deeper in miss.differences],
    }
