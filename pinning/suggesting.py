"""The form `suggest` of `python -m pinning`: which keys to hand out for given doors."""

from typing import Any

from pinning.choosing import LIMIT_S, KeySet, choose_keys
from pinning.errors import Refusal, Refusals, Refused
from pinning.fields import Fields

__all__ = ["suggest_form"]

MOST_KEYS = 200_000
MOST_DOORS = 200_000
MOST_NEEDED = 2_000
LONGEST_LIMIT_S = 600

Answer = dict[str, Any]


def suggest_form(source: object) -> Answer:
    refusals = Refusals()
    fields = Fields(source, "input", refusals, ("opens", "needed", "max_keys", "limit_s"))
    opens = _opens(fields)
    needed = _doors(fields, "needed", fields.items("needed", MOST_NEEDED))
    max_keys = fields.integer_or_none("max_keys", 0, MOST_NEEDED)
    limit_s = fields.integer("limit_s", 1, LONGEST_LIMIT_S) if fields.has("limit_s") else LIMIT_S
    refusals.stop()
    front = choose_keys(opens, needed, max_keys, limit_s)
    if not all(choice.is_proven for choice in front):
        reason = (
            f"The choice is not proven within {limit_s:g} s; ask for fewer doors, or give a longer limit_s."
        )
        raise Refused([Refusal("too_large", reason)])
    return {"front": [_told(choice) for choice in front]}


def _told(choice: KeySet[str]) -> Answer:
    return {"keys": list(choice.keys), "extra": choice.extra}


def _opens(fields: Fields) -> dict[str, list[str]]:
    value = fields.value("opens")
    if not isinstance(value, dict):
        if fields.read("opens"):
            fields.refuse("opens", "type", "an object is expected, with a list of doors for each key.")
        return {}
    if len(value) > MOST_KEYS or not all(0 < len(key) <= 100 and key.isprintable() for key in value):
        reason = f"at most {MOST_KEYS:,} names of 1 to 100 printable characters are expected."
        fields.refuse("opens", "value", reason)
        return {}
    return {key: _doors(fields, "opens", doors, f"key {key!r}: ") for key, doors in value.items()}


def _doors(fields: Fields, name: str, doors: object, place: str = "") -> list[str]:
    if not isinstance(doors, list) or not all(isinstance(door, str) for door in doors):
        fields.refuse(name, "type", f"{place}a list of doors is expected, each a text; correct it.")
        return []
    if len(doors) > MOST_DOORS or not all(0 < len(door) <= 100 and door.isprintable() for door in doors):
        reason = f"{place}at most {MOST_DOORS:,} doors of 1 to 100 printable characters are expected."
        fields.refuse(name, "value", reason)
        return []
    return doors
