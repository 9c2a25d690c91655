"""What several forms of `python -m pinning` read alike."""

from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import TypeVar

from pinning.bittings import Bitting, parse_any_bitting
from pinning.columns import Pinning, parse_stacks
from pinning.errors import Refusals, Refused, collect
from pinning.fields import Fields
from pinning.formats import CoreFormat, load, parse_format
from pinning.stacks import pin

__all__ = ["GivenEstate", "format_of", "read_estate", "told_apart"]

MOST_ENTRIES = 100_000

T = TypeVar("T")


@dataclass(frozen=True)
class GivenEstate:
    """Keys and pinned cores by the names that the asker gave; `operating` holds the keys of those cores that
    were given by keys.
    """

    format: CoreFormat
    keys: dict[str, Bitting]
    cores: dict[str, Pinning]
    operating: dict[str, list[str]]


def read_estate(source: object, more: Callable[[Fields], object] | None = None, *names: str) -> GivenEstate:
    """The estate of a form that takes `format`, `keys` and `cores`; `more` reads the form's other `names`."""
    refusals = Refusals()
    fields = Fields(source, "input", refusals, ("format", "keys", "cores", *names))
    format = format_of(fields)
    keys, cores = _entries(fields, "keys"), _entries(fields, "cores")
    if more is not None:
        more(fields)
    if format is None:
        raise Refused(refusals)
    bittings = {name: _key_of(format, name, text, refusals) for name, text in keys.items()}
    pinnings = {name: _core_of(format, name, core, refusals) for name, core in cores.items()}
    known = {name: key for name, key in bittings.items() if key is not None}
    pinned = {name: core for name, core in pinnings.items() if core is not None}
    refusals.stop()
    return GivenEstate(format, known, pinned, {name: _operating(core) for name, core in cores.items()})


def _operating(core: object) -> list[str]:
    return list(core.get("operating") or []) if isinstance(core, dict) else []


def format_of(fields: Fields) -> CoreFormat | None:
    """The format named or described in the input; None when it was refused."""
    value = fields.value("format")
    if isinstance(value, str):
        return collect(fields.refusals, lambda: load(value))
    if isinstance(value, dict):
        return collect(fields.refusals, lambda: parse_format(value))
    if fields.read("format"):
        fields.refuse("format", "type", "an id or an object with a format's parameters is expected.")
    return None


def told_apart(refusals: Refusals, name: str, made: Callable[[], T]) -> T | None:
    """As `collect`, for one of several parts of an input: every message begins with its name."""
    found = Refusals()
    result = collect(found, made)
    refusals.extend(replace(refusal, message=f"{name}, {refusal.message}") for refusal in found)
    return result


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


def _key_of(format: CoreFormat, name: str, text: object, refusals: Refusals) -> Bitting | None:
    if not isinstance(text, str):
        refusals.add("type", f"key {name!r}: a text of cuts is expected; correct it.")
        return None
    return collect(refusals, lambda: parse_any_bitting(format, text, f"key {name!r}"))


def _core_of(format: CoreFormat, name: str, source: object, refusals: Refusals) -> Pinning | None:
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
